"""The undo list as rows: every state of the rig with the edit that led to it, and what that edit brought."""

from collections.abc import Iterator, Mapping, Sequence

from rackwright.console.rows.consequence import foreseen
from rackwright.console.rows.row import Row, fit, hanging, heading, words
from rackwright.console.terminal.glyphs import Glyphs
from rackwright.engine.assess import Assessed
from rackwright.engine.finding import Finding
from rackwright.model.diff import Change, difference
from rackwright.model.night import MINUTE
from rackwright.store.safe.undo_log import Moment

OLDEST = "the first state"
SIGNS: Mapping[str, tuple[str, str]] = {
    "added": ("+", "ok"),
    "removed": ("−", "failed"),
    "changed": ("~", "warn"),
    "moved": (">", "note"),
}


def called(state: Moment) -> str:
    """A state in a few words."""
    return f'"{state.label}", {state.when[:MINUTE]}'.removesuffix(", ") if state.label else OLDEST


def states(found: Sequence[Moment], here: int, width: int) -> list[Row]:
    """Every state by its number, the latest first, each with when, of another day with its date, and what edit led to it.

    What is undone stands over the one that the rig is in.
    """
    day = found[-1].when.partition(" ")[0]
    whens = [state.when[:MINUTE] for state in found]
    times = [when.removeprefix(day).strip() if day else when for when in whens]
    longest = max(map(len, times))
    rows = []
    for number, state in reversed(tuple(enumerate(found))):
        mark, style = ("undone", "dim") if number > here else ("now", "head") if number == here else ("", "")
        told = f"{times[number]:<{longest}}  {state.label or OLDEST}" if longest else state.label or OLDEST
        rows.append(Row(((f"{mark:<8}", style), (fit(told, max(width - 10, 10)), style)), str(number)))
    return rows


def effect(before: Assessed, after: Assessed, width: int, glyphs: Glyphs) -> list[Row]:
    """What leads from one assessment to another: findings that come and go, then what is changed in the rig, long texts last."""
    found = sorted(
        difference(before.index.rig, after.index.rig), key=lambda change: len(str(change)) > 3 * width
    )
    kinds = [change.kind for change in found]
    counts = ", ".join(f"{kinds.count(kind)} {kind}" for kind in SIGNS if kind in kinds)
    return [
        heading("Findings: + added, ~ changed, − gone"),
        *findings(before.findings, after.findings, width, glyphs),
        words(""),
        heading(counts.capitalize() or "No differences."),
        *(row for change in found for row in _change(change, width, glyphs)),
    ]


def findings(
    before: Sequence[Finding], after: Sequence[Finding], width: int, glyphs: Glyphs
) -> Iterator[Row]:
    """What findings come, change and go, each in as many lines as it takes."""
    for row in foreseen(before, after):
        (sign, style), *told = row.parts if len(row.parts) > 1 else (("", ""), *row.parts)
        text = "".join(text for text, _ in told)
        yield from hanging((sign, style), (text, told[0][1]), width, glyphs)


def _change(change: Change, width: int, glyphs: Glyphs) -> Iterator[Row]:
    sign, style = SIGNS[change.kind]
    return hanging((f"{sign} ", style), (str(change), ""), width, glyphs)
