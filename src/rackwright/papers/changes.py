"""What changed since last time: each difference with before and after, the findings that came and went, the figures that moved.

Differences are `model.diff`'s, figures the two assessments': nothing is computed here.
"""

from collections.abc import Callable, Iterator, Mapping
from typing import Any, NamedTuple

from rackwright.engine.assess import Assessed
from rackwright.model.diff import Change, difference
from rackwright.papers import findings
from rackwright.papers.document import Sheet, Table, Words
from rackwright.papers.lines import walk
from rackwright.papers.phrases import REPATCHING, counted
from rackwright.units import NOTHING, short
from rackwright.units.formatting import change_db, change_percent, distance

NAME = "changes"
MOST = 8
"""Figures of a kind that are told, those that moved most."""

GROUPS: Mapping[str, tuple[str, ...]] = {
    "Racks and panels": ("rack", "amplifier", "channel", "socket"),
    "Lines": ("line",),
    "Cabinets": ("cabinet",),
    "Feeds": ("feed",),
    "Mains": ("supply", "board", "circuit", "load"),
    "Equipment": (
        "spare", "stocked cable", "amplifier model", "loudspeaker model", "section", "cable model", "connector model",
    ),
    "Meter check": ("reading",),
    "Failures": ("list",),
}  # fmt: skip
"""Heading → the kinds of thing under it, as the crew walks."""
WIRING = ("Racks and panels", "Lines", "Cabinets")
"""Headings of what a plug or a patch is moved for."""
REST = "The rig itself"


def changes_sheet(before: Assessed, after: Assessed, earlier: str) -> Sheet:
    """What leads from one rig to the other; `earlier` names the first in words."""
    changes = difference(before.index.rig, after.index.rig)
    told = Words(f"Since {earlier}: {counted(len(changes), 'difference')}.")
    rewired = any(change.what in GROUPS[group] for change in changes for group in WIRING)
    tables = (*_differences(changes, after), *_findings(before, after), *_moved(before, after))
    return Sheet(name=NAME, title="What changed", blocks=(told, *([REPATCHING] if rewired else ()), *tables))


# --- differences --------------------------------------------------------------------------------------


def _differences(changes: tuple[Change, ...], after: Assessed) -> Iterator[Table]:
    walked = {line.id: place for place, line in enumerate(walk(after.index))}
    heading_of = {what: heading for heading, kinds in GROUPS.items() for what in kinds}
    for heading in (*GROUPS, REST):
        of_it = [change for change in changes if heading_of.get(change.what, REST) == heading]
        if heading == "Lines":
            of_it.sort(key=lambda change: walked.get(change.id, len(walked)))
        if of_it:
            yield Table(
                name=heading.lower().replace(" ", "-"),
                heading=heading,
                heads=("of", "what", "before", "after"),
                rows=tuple(map(_row, of_it)),
            )


def _row(change: Change) -> tuple[str, ...]:
    of = f"{change.what} {change.id}".strip().replace(" ", "\u00a0")
    what = change.key or change.kind.upper()
    return (of, what, change.before or NOTHING, change.after or NOTHING)


# --- findings -----------------------------------------------------------------------------------------


def _findings(before: Assessed, after: Assessed) -> Iterator[Table]:
    """Those that are in one only, told apart by what they are, where, and how grave."""
    was, now = ({(f.severity, f.at, f.code): f for f in found.findings} for found in (before, after))
    for name, heading, here, there in (
        ("new", "New findings", now, was),
        ("gone", "Findings gone", was, now),
    ):
        if rows := tuple(findings.rows([f for key, f in here.items() if key not in there])):
            yield Table(name=name, heading=heading, heads=findings.HEADS, rows=rows)


# --- figures ------------------------------------------------------------------------------------------


class _Figure(NamedTuple):
    name: str
    table: Callable[[Assessed], Mapping[str, Any]]
    of: Callable[[Any], float | None]
    change: Callable[[float, float], str]
    gone: str
    """What a figure says that is none."""


FIGURES = (
    _Figure("load Ω", lambda a: a.channels, lambda c: c.load_nominal, change_percent, "no load"),
    _Figure("level V", lambda a: a.sections, lambda s: s.voltage, change_db, "silent"),
    _Figure("damping", lambda a: a.sections, lambda s: s.damping_factor, change_percent, NOTHING),
)


def _moved(before: Assessed, after: Assessed) -> Iterator[Table]:
    for figure in FIGURES:
        was, now = ({n: figure.of(r) for n, r in figure.table(a).items()} for a in (before, after))
        both = [
            (name, was[name], now[name])
            for name in now
            if name in was and short(was[name]) != short(now[name])
        ]
        both.sort(key=lambda item: -distance(*item[1:]))
        if both:
            more = f" ({MOST} of {len(both)})" if len(both) > MOST else ""
            yield Table(
                name=figure.name.partition(" ")[0],
                heading=f"Moved most: {figure.name}{more}",
                heads=("at", "before", "after", "change"),
                right=frozenset({"before", "after", "change"}),
                rows=tuple(_figures(figure, *item) for item in both[:MOST]),
            )


def _figures(figure: _Figure, at: str, before: float | None, after: float | None) -> tuple[str, ...]:
    shown = (figure.gone if value is None else short(value) for value in (before, after))
    return (at, *shown, figure.change(before, after) if before and after else NOTHING)
