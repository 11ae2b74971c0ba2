"""The labels: one for each end of every line, to cut out, with what is on each of its pole pairs."""

from collections.abc import Sequence

from rackwright.engine.assess import Assessed
from rackwright.model.index import Index
from rackwright.model.lines import Line, Stock
from rackwright.papers.document import Label, Labels, Sheet, Words
from rackwright.papers.lines import lengths, near_end, pairs_of, walk
from rackwright.papers.marks import Marks, marked
from rackwright.papers.phrases import rack_title
from rackwright.units.text_table import NO_BREAK


def label_sheet(assessment: Assessed, stock: Sequence[Stock]) -> Sheet:
    """A label for each end of every line."""
    index, marks = assessment.index, Marks(assessment)
    lines = walk(index)
    lengths_ = lengths(index.rig, lines, stock)
    labels = tuple(label for line in lines for label in _labels(index, marks, line, lengths_[line.id]))
    cut = Words("Cut along the lines. One label for each end of every cable.")
    return Sheet(name="labels", title="Cable labels", blocks=(cut, Labels(labels)))


def _labels(index: Index, marks: Marks, line: Line, length: str) -> tuple[Label, Label]:
    cabinet = index.cabinets[line.to]
    near, cable = near_end(index, line), f"{line.cable}, {length}"
    rack = index.rack_of.get(line.source)
    begins = (
        rack_title(rack)
        if rack
        else index.cabinets[line.source].position
        if line.source in index.cabinets
        else ""
    )
    ends = (
        marked(name, found)
        for name, found in ((near, marks.own(line.source)), (cabinet.id, marks.cabinet(cabinet.id)))
        if found
    )
    pairs = (pair.replace(NO_BREAK, " ") for pair in pairs_of(index, marks, line))
    told = (cable, *pairs, *ends, *marks.line(line))
    return (
        Label(line.id, "near end", near, _present(begins, f"other end: {cabinet.id}", *told)),
        Label(line.id, "far end", cabinet.id, _present(cabinet.position, f"other end: {near}", *told)),
    )


def _present(*words: str) -> tuple[str, ...]:
    return tuple(word for word in words if word)
