"""Which sheets and formats there are, and making them: an assessment in, named files as bytes out."""

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import Any, NamedTuple

from msgspec import Struct
from msgspec.structs import replace

from rackwright.engine.assess import Assessed, assess
from rackwright.model.lines import Stock
from rackwright.model.rig import Rig
from rackwright.papers import (
    cover,
    door,
    equipment,
    findings,
    labels,
    lines,
    mains,
    meter_check,
    night,
    patch,
    processor,
    pull,
    racks,
    response,
    signal_path,
    single,
    stage,
)
from rackwright.papers.document import Header, Sheet, Table
from rackwright.papers.identity import one_line
from rackwright.store.night_log import Event
from rackwright.units.text_table import NO_BREAK
from rackwright.units.typography import ascii_only, spelled


class Given(NamedTuple):
    """What papers say besides what the assessment has."""

    stock: Sequence[Stock] = ()
    """What the company owns; a rig that lists its own goes by that."""
    before: Rig | None = None
    """The rig of the revision before."""
    log: Sequence[Event] = ()
    """Of the night."""
    venue_notes: str = ""
    """What is noted of the venue that the rig names."""


MAKERS: Mapping[str, Callable[[Assessed, Given], Sheet]] = {
    "cover": lambda assessment, given: cover.cover_sheet(assessment, given.before, given.venue_notes),
    "page": lambda assessment, given: single.single_sheet(assessment, given.stock),
    "rack": lambda assessment, _: racks.rack_sheet(assessment),
    "stage": lambda assessment, given: stage.stage_sheet(assessment, given.stock),
    "path": lambda assessment, _: signal_path.path_sheet(assessment),
    "patch": lambda assessment, _: patch.patch_sheet(assessment),
    "lines": lambda assessment, given: lines.line_sheet(assessment, given.stock),
    "pull": lambda assessment, given: pull.pull_sheet(assessment, given.stock),
    "labels": lambda assessment, given: labels.label_sheet(assessment, given.stock),
    "meter": lambda assessment, _: meter_check.meter_check_sheet(assessment),
    "processor": lambda assessment, _: processor.processor_sheet(assessment),
    "mains": lambda assessment, _: mains.mains_sheet(assessment),
    "findings": lambda assessment, _: findings.findings_sheet(assessment),
    "equipment": lambda assessment, _: equipment.equipment_sheet(assessment),
    "night": lambda assessment, given: night.night_sheet(assessment, given.log),
    "response": lambda assessment, given: response.response_sheet(
        assessment, assess(given.before) if given.before else None
    ),
    "door": lambda assessment, _: door.door_sheet(assessment),
}
"""Sheet by name, in the order in which they are wanted."""

ALL = tuple(name for name in MAKERS if name not in ("response", "door"))
"""Those made where none is named: the crew needs no response, and the door's is searched for, which takes its time."""

WANTED: Mapping[str, Callable[[Rig, Given], bool]] = {
    "page": lambda rig, _: single.is_small(rig),
    "stage": lambda rig, _: stage.any_position(rig),
    "night": lambda rig, given: night.any_night(rig, given.log),
}
"""When those are made that not every rig needs, unless they are asked for by name."""

FORMER = {"test": "meter"}
"""Name of a sheet in an earlier version → its name today."""

NOTHING_GIVEN = Given()
FORMATS = ("md", "html", "pdf", "csv", "txt")


def sheets(
    assessment: Assessed, stock: Sequence[Stock], names: Sequence[str] = (), given: Given = NOTHING_GIVEN
) -> tuple[Sheet, ...]:
    """The sheets of those names, ALL that the rig needs where none is named, in the order of MAKERS."""
    rig = assessment.index.rig
    given = given._replace(stock=rig.stock or stock)
    if tuple(names) in ((), ALL):
        names = [name for name in ALL if name not in WANTED or WANTED[name](rig, given)]
    return tuple(make(assessment, given) for name, make in MAKERS.items() if name in names)


def files(made: Sequence[Sheet], header: Header, formats: Sequence[str]) -> dict[str, bytes]:
    """File name → content, for each sheet in each format; with several sheets also all of them in one PDF to print."""
    found: dict[str, bytes] = {}
    made, header = _printable(made, one_line), _printable(header, one_line)
    made = [sheet.with_contents(_contents(made, header, "pdf" in formats)) for sheet in made]
    plain = "ascii" if ascii_only() else ""
    for sheet in made:
        spelt: dict[str, Sheet] = {}
        for kind in formats:
            if kind == "csv":
                from rackwright.papers.csv_format import as_csv

                found |= {f"{name}.csv": text.encode("utf-8") for name, text in as_csv(sheet, header).items()}
            elif kind == "pdf":
                from rackwright.papers.pdf import as_pdf

                found[f"{sheet.name}.pdf"] = as_pdf([sheet], header)
            else:
                alphabet = plain if kind in ("md", "txt") else ""
                if alphabet not in spelt:
                    spelt[alphabet] = _printable(sheet, partial(spelled, encoding=alphabet, keep=NO_BREAK))
                text = _text(spelt[alphabet], header, kind)
                found[f"{sheet.name}.{kind}"] = spelled(text, alphabet).encode("utf-8")
    if "pdf" in formats and len(made) > 1:
        from rackwright.papers.pdf import as_pdf

        found["all.pdf"] = as_pdf(made, header)
    return found


def _contents(made: Sequence[Sheet], header: Header, numbered: bool) -> Table | None:
    """What is in the bundle, with the page of `all.pdf` that each sheet begins on; nothing where it is a single sheet."""
    if len(made) < 2:
        return None
    rows = [(sheet.title, sheet.name) for sheet in made]
    table = Table(
        name="contents",
        heading="Contents",
        heads=("sheet", "file", *(["page of all.pdf"] if numbered else [])),
        right=frozenset({"page of all.pdf"}),
        rows=tuple((*row, "000") if numbered else row for row in rows),
    )
    if not numbered:
        return table
    from rackwright.papers.layout import firsts, laid_out

    begins = firsts([laid_out(sheet.with_contents(table), header) for sheet in made])
    return replace(table, rows=tuple((*row, f"{first}") for row, first in zip(rows, begins, strict=True)))


def _printable(value: Any, spell: Callable[[str], str]) -> Any:
    """A sheet, a header, or what is in one, with every text spelled anew."""
    if isinstance(value, str):
        return spell(value)
    if isinstance(value, Struct):
        fields = {name: _printable(getattr(value, name), spell) for name in value.__struct_fields__}
        return replace(value, **fields)
    if isinstance(value, tuple | list | frozenset):
        parts = (_printable(part, spell) for part in value)
        return frozenset(parts) if isinstance(value, frozenset) else tuple(parts)
    return value


def _text(sheet: Sheet, header: Header, kind: str) -> str:
    from rackwright.papers import html, markdown, text

    return {"md": markdown.as_markdown, "html": html.as_html, "txt": text.as_text}[kind](sheet, header)
