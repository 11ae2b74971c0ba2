"""Which sheets and formats there are, and making them: an assessment in, named files as bytes out."""

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from rackwright.engine.assess import Assessed
from rackwright.model.rig import Stock
from rackwright.papers import (
    door,
    equipment,
    findings,
    labels,
    lines,
    mains,
    meter_check,
    patch,
    processor,
    pull,
    racks,
    signal_path,
    stage,
)
from rackwright.papers.document import Header, Sheet
from rackwright.papers.identity import one_line
from rackwright.units.text_table import NO_BREAK
from rackwright.units.typography import ascii_only, spelled

MAKERS: Mapping[str, Callable[[Assessed, Sequence[Stock]], Sheet]] = {
    "rack": lambda assessment, _: racks.rack_sheet(assessment),
    "stage": stage.stage_sheet,
    "path": lambda assessment, _: signal_path.path_sheet(assessment),
    "patch": lambda assessment, _: patch.patch_sheet(assessment),
    "lines": lines.line_sheet,
    "pull": pull.pull_sheet,
    "labels": labels.label_sheet,
    "test": lambda assessment, _: meter_check.meter_check_sheet(assessment),
    "processor": lambda assessment, _: processor.processor_sheet(assessment),
    "mains": lambda assessment, _: mains.mains_sheet(assessment),
    "findings": lambda assessment, _: findings.findings_sheet(assessment),
    "equipment": lambda assessment, _: equipment.equipment_sheet(assessment),
    "door": lambda assessment, _: door.door_sheet(assessment),
}
"""Sheet by name, in the order in which they are wanted."""

ALL = tuple(name for name in MAKERS if name != "door")
"""Those made where none is named: the door's is searched for, which takes its time."""

FORMATS = ("md", "html", "pdf", "csv", "txt")


def sheets(assessment: Assessed, stock: Sequence[Stock], names: Sequence[str] = ()) -> tuple[Sheet, ...]:
    """The sheets of those names, ALL where none is named, in the order of MAKERS.

    `stock` is what the company owns; a rig that lists its own goes by that.
    """
    owned = assessment.index.rig.stock or stock
    return tuple(make(assessment, owned) for name, make in MAKERS.items() if name in (names or ALL))


def files(made: Sequence[Sheet], header: Header, formats: Sequence[str]) -> dict[str, bytes]:
    """File name → content, for each sheet in each format; with several sheets also all of them in one PDF to print."""
    found: dict[str, bytes] = {}
    made, header = _printable(made, one_line), _printable(header, one_line)
    for sheet in made:
        for kind in formats:
            if kind == "csv":
                from rackwright.papers.csv_format import as_csv

                found |= {f"{name}.csv": text.encode("utf-8") for name, text in as_csv(sheet, header).items()}
            elif kind == "pdf":
                from rackwright.papers.pdf import as_pdf

                found[f"{sheet.name}.pdf"] = as_pdf([sheet], header)
            else:
                alphabet = "ascii" if kind in ("md", "txt") and ascii_only() else ""
                narrow = _printable(sheet, partial(spelled, encoding=alphabet, keep=NO_BREAK))
                found[f"{sheet.name}.{kind}"] = spelled(_text(narrow, header, kind), alphabet).encode("utf-8")
    if "pdf" in formats and len(made) > 1:
        from rackwright.papers.pdf import as_pdf

        found["all.pdf"] = as_pdf(made, header)
    return found


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
