"""The page for `circuits`: what each carries, phases and supply, switching on, and a better arrangement."""

import math
from collections.abc import Mapping
from typing import NamedTuple

from rackwright.cli.check import breaker, findings, names, percent, short
from rackwright.cli.page import Page, Span
from rackwright.engine import arrangement, mains
from rackwright.engine.arrangement import Arrangement, ArrangementError, Move
from rackwright.engine.assess import Assessed, assess
from rackwright.engine.findings.power import SUPPLY
from rackwright.engine.results import CAUTION, CircuitResult, Finding, SupplyResult
from rackwright.model.rig import Rig
from rackwright.units import reading

BEFORE_MOVING = (
    "How far a mains lead reaches is not known here: look before you move, and power an amplifier down before you "
    "unplug it."
)
SAME = 5e-4
"""Loadings closer than this are shown as one."""


class Proposal(NamedTuple):
    """A better arrangement with what it leads to; only `trouble` where nothing can be arranged."""

    made: Arrangement | None
    fewer: tuple[Move, ...]
    """The moves it takes to keep every limit, where they are fewer."""
    rig: Rig | None
    """The rig rearranged."""
    after: Assessed | None
    trouble: str = ""


def proposed(rig: Rig, assessment: Assessed, fewest: bool = False) -> Proposal:
    """The arrangement of least loading, or the one of fewest moves that keeps the limits."""
    try:
        few = arrangement.propose(assessment, few_moves=True)
        made = few if fewest else arrangement.propose(assessment)
    except ArrangementError as error:
        return Proposal(None, (), None, None, str(error))
    rearranged = arrangement.apply(rig, made)
    fewer = few.moves if len(few.moves) < len(made.moves) else ()
    return Proposal(made, fewer, rearranged, assess(rearranged, assessment))


def circuits_page(rig: Rig, assessment: Assessed, proposal: Proposal) -> Page:
    """The whole page."""
    page = Page()
    page.say(Span(rig.name, "bold"))
    if assessment.circuits:
        page.heading("Circuits at programme, and driven hard")
        _loads(page, assessment)
        page.heading("Feeds, and switching on")
        _feeds(page, assessment)
    page.heading("Supply")
    _supply(page, assessment)
    found = mains_findings(assessment)
    if found:
        page.heading("Findings")
        findings(page, found)
    page.heading("A better arrangement")
    _arrangement(page, assessment, proposal)
    page.gap()
    page.say(Span(CAUTION, "dim"))
    return page


def mains_findings(assessment: Assessed) -> list[Finding]:
    """The findings on circuits and supply."""
    places = {*assessment.circuits, SUPPLY}
    return [f for f in assessment.findings if f.at in places or f.code == "amplifier-without-circuit"]


# --- what there is ------------------------------------------------------------------------------------


def _loads(page: Page, assessment: Assessed) -> None:
    rules = assessment.index.rig.supply.rules
    numbers = ("A", "A hard", "%", "% hard")
    rows = [
        (
            c.id,
            c.phase,
            breaker(assessment, c),
            *map(short, (c.programme_current, c.heavy_current)),
            *map(percent, (c.loading, c.loading_heavy)),
            lasting(_endurance(assessment, c)),
            " ".join(c.amplifiers) or "nothing",
        )
        for c in assessment.circuits.values()
    ]
    page.table(("circuit", "phase", "breaker", *numbers, "breaker lasts", "carries"), rows, right=numbers)
    over = [c for c in assessment.circuits.values() if c.heavy_current > c.breaker]
    for circuit in over:
        page.say(
            f"{circuit.id} driven hard, {reading(circuit.heavy_current, 'A')} on {breaker(assessment, circuit)}: "
            f"its breaker {_endurance(assessment, circuit).words}.",
            rest="  ",
        )
    if over:
        page.say(Span(f"A range, never a promise: {mains.breaker_source(rules)}.", "dim"))


def _endurance(assessment: Assessed, circuit: CircuitResult) -> mains.Endurance:
    curve = assessment.index.circuits[circuit.id].curve
    return mains.endurance(circuit.heavy_current, circuit.breaker, curve, assessment.index.rig.supply.rules)


def lasting(endurance: mains.Endurance) -> str:
    """How long a breaker carries a current, as a range: `1 s to 1 h`."""
    shortest, longest = endurance.shortest, endurance.longest
    if math.isinf(shortest):
        return "all night"
    if math.isinf(longest):
        return f"{_time(shortest)} or more"
    return f"{_time(shortest)} to {_time(longest)}"


def _time(seconds: float) -> str:
    if seconds >= 3600:
        return f"{seconds / 3600:g} h"
    return f"{seconds / 60:g} min" if seconds >= 60 else f"{seconds:g} s"


def _feeds(page: Page, assessment: Assessed) -> None:
    numbers = ("drop %", "% hard", "inrush A", "may trip from A")
    rows = [
        (
            c.id,
            *map(short, (c.drop, c.drop_heavy, c.inrush, c.inrush_limit)),
            _switching(mains.switch_on(c, assessment.amplifiers)),
        )
        for c in assessment.circuits.values()
    ]
    page.table(("circuit", *numbers, "switch on"), rows, right=numbers)
    if any(len(mains.switch_on(c, assessment.amplifiers).groups) > 1 for c in assessment.circuits.values()):
        page.say(Span("Between groups leave some seconds.", "dim"))


def _switching(sequence: mains.SwitchOn) -> str:
    steps = ", then ".join(names(group) for group in sequence.groups)
    if sequence.over:
        alone = f"{names(sequence.over)}: over it alone"
        return f"{steps}; {alone}" if steps else alone
    together = len(sequence.groups) == 1 and len(sequence.groups[0]) > 1
    return f"{steps} together" if together else steps or "–"


def _supply(page: Page, assessment: Assessed) -> None:
    supply = assessment.supply
    numbers = ("A", "A hard", "VA", "VA hard", "heat W", "heat hard")
    loads = {**(assessment.phases if supply.phases == 3 else {}), "the whole": supply}
    rows = [
        (
            name,
            *map(
                short,
                (p.programme_current, p.heavy_current, p.apparent, p.apparent_heavy, p.heat, p.heat_heavy),
            ),
        )
        for name, p in loads.items()
    ]
    page.table(("phase" if supply.phases == 3 else "", *numbers), rows, right=numbers)
    page.say(f"Heat into the room: {reading(supply.heat_btu, 'BTU/h')} at programme.")
    if supply.imbalance is not None:
        _three_phases(page, supply)
    if supply.generator is not None:
        page.say(
            f"Generator {reading(supply.generator, 'VA')}: {percent(supply.generator_loading)} % at programme, "
            f"{percent(supply.generator_loading_heavy)} % driven hard; its voltage falls by {short(supply.dip)} % and "
            f"{short(supply.dip_heavy)} %."
        )


def _three_phases(page: Page, supply: SupplyResult) -> None:
    page.say(
        f"Phases uneven by {percent(supply.imbalance)} %, {percent(supply.imbalance_heavy)} % driven hard; the neutral "
        f"carries {reading(supply.neutral, 'A')}, {reading(supply.neutral_heavy, 'A')} driven hard."
    )
    if supply.neutral_harmonic:
        page.say(
            f"Third harmonics may add up to {reading(supply.neutral_harmonic, 'A')} to the neutral, "
            f"{reading(supply.neutral_harmonic_heavy, 'A')} driven hard (common practice, no source)."
        )


# --- what would be better -----------------------------------------------------------------------------


def _arrangement(page: Page, assessment: Assessed, proposal: Proposal) -> None:
    made = proposal.made
    if made is None:
        page.say(proposal.trouble)
        return
    if not made.moves:
        page.say(
            "Nothing to move: " + ("no arrangement is better." if made.proven else "none better was found.")
        )
        return
    page.say(_gain(assessment, made))
    _moves(page, made)
    if proposal.after is not None:
        _consequences(page, assessment, proposal.after)
    page.say(BEFORE_MOVING)
    if proposal.fewer:
        moves = "; ".join(_move(move) for move in proposal.fewer)
        count = _count(len(proposal.fewer), "move")
        page.gap()
        page.say(f"Or keep every limit with {count}: {moves}. Add --fewest to see and apply just that.")


def _gain(assessment: Assessed, made: Arrangement) -> str:
    even = ""
    if assessment.supply.phases == 3:
        even = (
            f"; phases uneven by {percent(made.before.imbalance)} %, then {percent(made.after.imbalance)} %"
        )
    sure = (
        "No better one exists."
        if made.proven
        else f"A better one may exist, none under {percent(made.bound)} %."
    )
    return (
        f"{_count(len(made.moves), 'move')} of {_count(len(assessment.amplifiers), 'amplifier')}. Worst loading at "
        f"programme {percent(made.before.worst)} %, then {percent(made.after.worst)} %{even}. {sure}"
    )


def _moves(page: Page, made: Arrangement) -> None:
    page.gap()
    page.table(("move", "from", "to"), [(m.amplifier, m.source or "no circuit", m.to) for m in made.moves])
    page.gap()
    changed = _changed(made.loading_before, made.loading_after)
    rows = [(name, percent(made.loading_before[name]), percent(made.loading_after[name])) for name in changed]
    page.table(("circuit", "% before", "% after"), rows, right=("% before", "% after"))


def _changed(before: Mapping[str, float], after: Mapping[str, float]) -> list[str]:
    return [name for name in before if abs(before[name] - after[name]) > SAME]


def _consequences(page: Page, before: Assessed, after: Assessed) -> None:
    """The findings on the mains that the moves mend, and those they bring."""
    was = {(f.code, f.at): f for f in mains_findings(before)}
    now = {(f.code, f.at): f for f in mains_findings(after)}
    mended = [f for key, f in was.items() if key not in now]
    brought = [f for key, f in now.items() if key not in was]
    page.gap()
    for words, found in (("Mends", mended), ("Brings", brought)):
        if found:
            page.say(f"{words}: " + ", ".join(f"{f.code} ({f.severity}) at {f.at}" for f in found) + ".")


def _move(move: Move) -> str:
    return (
        f"{move.amplifier} from {move.source} to {move.to}"
        if move.source
        else f"{move.amplifier} to {move.to}"
    )


def _count(number: int, thing: str) -> str:
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"
