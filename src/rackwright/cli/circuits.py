"""`circuits`: what each carries, phases and supply, switching on, and a better arrangement."""

import math

import click

from rackwright.cli.check import breaker, carried, findings
from rackwright.cli.opening import Refusal, opened
from rackwright.cli.page import Page, Span
from rackwright.cli.saving import TONIGHT, edited, see_that_it_is_free, tell_how_long, tell_saved, write
from rackwright.cli.words import FILE, RIG
from rackwright.engine import cautions, figures, mains
from rackwright.engine.allocation.arrangement import Arrangement, ArrangementError, mains_findings, propose
from rackwright.engine.assess import Assessed, assess
from rackwright.engine.demand import BoardResult, CircuitResult, PhaseResult, SupplyResult
from rackwright.model.rig import Rig
from rackwright.units import percent, reading, short
from rackwright.units.wording import listed

AT_ONCE = 0.1
"""s within which a breaker that trips does so at once. Source: IEC 60898-1, from memory."""
SAME = 5e-4
"""Loadings closer than this are shown as one."""


@click.command()
@click.argument("rig", type=RIG)
@click.option("--fewest", is_flag=True, hidden=True, help="As without it; read for those who are used to it.")
@click.option(
    "--apply",
    "target",
    metavar="OUT",
    type=FILE,
    help="Write the rearranged rig to the file OUT: a new one, or RIG's own.",
)
@TONIGHT
def command(rig: str, fewest: bool, target: str | None, tonight: bool) -> None:
    """Show the circuits' loading, and a better arrangement."""
    if tonight and target is None:
        raise click.UsageError("--tonight is said of a rig that is written: name the file with --apply.")
    source = opened(rig)
    if target is not None:
        see_that_it_is_free(target, source.file)

    assessment = assess(source.rig)
    try:
        proposal = propose(assessment)
    except ArrangementError as error:
        if target is not None:
            raise Refusal(str(error)) from None
        circuits_page(source.rig, assessment, str(error)).print()
        return
    page = circuits_page(source.rig, assessment, proposal)
    if target is not None:
        after = edited(source.rig, proposal.made_on, "circuits rearranged", tonight)
        tell_how_long(page, source.rig, after, tonight)
        tell_saved(page, target, write(after, target))
    page.print()


def circuits_page(rig: Rig, assessment: Assessed, proposal: Arrangement | str) -> Page:
    """The whole page; where there is no proposal, why there is none."""
    page = Page()
    page.say(Span(rig.title, "bold"))
    if assessment.circuits:
        page.heading("Circuits at programme, and driven hard")
        _loads(page, assessment)
        page.heading("Supply cables and switch-on order")
        _feeds(page, assessment)
    page.heading("Supply")
    _supply(page, assessment)
    found = mains_findings(assessment)
    if found:
        page.heading("Findings")
        findings(page, found)
    page.heading("A better arrangement")
    if isinstance(proposal, str):
        page.say(proposal)
    else:
        _proposal(page, assessment, proposal)
    page.gap()
    page.say(Span(cautions.PLANNING, "caution"))
    return page


# --- what there is ------------------------------------------------------------------------------------


def _loads(page: Page, assessment: Assessed) -> None:
    rules = assessment.index.rig.supply.rules
    numbers = ("A", "hard", "%", "hard")
    rows = [
        (
            c.id,
            c.phase,
            breaker(assessment, c),
            *carried(
                assessment,
                c,
                *figures.cells(
                    figures.of_circuit(assessment, c.id),
                    *("programme_current", "heavy_current", "loading", "loading_heavy"),
                ),
                lasting(_endurance(assessment, c)),
            ),
            " ".join((*c.amplifiers, *c.loads)) or "–",
        )
        for c in assessment.circuits.values()
    ]
    page.table(("circuit", "phase", "breaker", *numbers, "driven hard", "carries"), rows, right=numbers)
    _boards(page, assessment)
    over = [c for c in assessment.circuits.values() if c.heavy_current > c.breaker]
    for circuit in over:
        page.say(
            f"{circuit.id} driven hard, {reading(circuit.heavy_current, 'A')} on {breaker(assessment, circuit)}: "
            f"its breaker {_endurance(assessment, circuit).words}.",
            rest="  ",
        )
    if over:
        page.say(Span(f"Typical times, not guaranteed: {mains.breaker_source(rules)}.", "dim"))


def _boards(page: Page, assessment: Assessed) -> None:
    """Intake and boards, what their fullest phase carries, and what leaks behind RCDs."""
    points: dict[str, BoardResult | SupplyResult] = {"intake": assessment.supply, **assessment.boards}
    rows = [
        (
            name,
            point.source if isinstance(point, BoardResult) else "",
            *(short(amperes) for amperes in (point.rating, point.fullest, point.fullest_heavy)),
            *(percent(share) for share in (point.loading, point.loading_heavy)),
            *(
                short(figure)
                for figure in (point.neutral, point.drop if isinstance(point, BoardResult) else None)
            ),
        )
        for name, point in points.items()
        if isinstance(point, BoardResult) or point.rating
    ]
    numbers = ("rating A", "highest A", "hard", "%", "hard", "neutral A", "drop %")
    if rows:
        page.gap()
        page.table(("board", "from", *numbers), rows, right=numbers)
    for rcd in assessment.rcds.values():
        page.say(
            f"{assessment.index.rig.supply.guard} of {rcd.id}, {reading(1000 * rcd.rating, 'mA')}: up to {reading(1000 * rcd.leakage, 'mA')} leaks behind it.",
            rest="  ",
        )


def _endurance(assessment: Assessed, circuit: CircuitResult) -> mains.Endurance:
    curve = assessment.index.circuits[circuit.id].curve
    return mains.endurance(circuit.heavy_current, circuit.breaker, curve, assessment.index.rig.supply.rules)


def lasting(endurance: mains.Endurance) -> str:
    """How long a breaker carries a current, as a range: `1 s to 1 h`, or a word where there is no range."""
    shortest, longest = endurance.shortest, endurance.longest
    if math.isinf(shortest):
        return "within rating"
    if shortest == 0 and longest <= AT_ONCE:
        return "trips at once"
    if math.isinf(longest):
        return f"{_time(shortest)} or more" if shortest else "may trip"
    if shortest == 0:
        return f"up to {_time(longest)}"
    return f"{_time(shortest)} to {_time(longest)}"


def _time(seconds: float) -> str:
    if seconds >= 3600:
        return f"{seconds / 3600:g} h"
    return f"{seconds / 60:g} min" if seconds >= 60 else f"{seconds:g} s"


def _feeds(page: Page, assessment: Assessed) -> None:
    numbers = ("drop %", "hard", "inrush A", "trip from A")
    rows = [
        (
            c.id,
            *carried(
                assessment,
                c,
                *figures.cells(figures.of_circuit(assessment, c.id), "drop", "drop_heavy", "inrush"),
            ),
            short(mains.switch_on(c, assessment.amplifiers).edge.current if c.inrush_limit else None),
            _switching(mains.switch_on(c, assessment.amplifiers)),
        )
        for c in assessment.circuits.values()
    ]
    page.table(("circuit", *numbers, "switch on"), rows, right=numbers)
    if any(len(mains.switch_on(c, assessment.amplifiers).groups) > 1 for c in assessment.circuits.values()):
        page.say(Span("Wait some seconds between groups.", "dim"))


def _switching(sequence: mains.SwitchOn) -> str:
    """The groups in their order, and what trips the breaker even alone."""
    groups = [" and ".join(group) for group in sequence.groups]
    steps = ", then ".join(groups) if len(groups) > 1 or sequence.over else "all together" if groups else "–"
    alone = f"{' and '.join(sequence.over)}: too much alone" if sequence.over else ""
    return "; ".join(part for part in (steps if groups or not alone else "", alone) if part)


def _supply(page: Page, assessment: Assessed) -> None:
    supply = assessment.supply
    numbers = ("A", "hard", "VA", "hard", "heat W", "hard")
    parts: list[PhaseResult | SupplyResult] = [*assessment.phases.values()] if supply.phases > 1 else []
    rows = [
        (
            part.id if isinstance(part, PhaseResult) else "all",
            *map(short, (part.programme_current, part.heavy_current, part.apparent, part.apparent_heavy)),
            *map(short, (part.heat, part.heat_heavy)),
        )
        for part in (*parts, supply)
    ]
    page.table(("phase", *numbers), rows, right=numbers)
    page.say(f"Heat into the room: {reading(supply.heat_btu, 'BTU/h')} at programme.")
    if dead := [c for c in assessment.circuits.values() if not c.live and c.amplifiers]:
        names = " ".join(name for circuit in dead for name in circuit.amplifiers)
        page.say(f"Without power, counted as if plugged in elsewhere: {names}.")
    if supply.imbalance is not None:
        _three_phases(page, supply)
    if supply.generator is not None:
        page.say(
            f"Generator {reading(supply.generator, 'VA')}: {percent(supply.generator_loading)} % at programme, "
            f"{percent(supply.generator_loading_heavy)} % driven hard; {_dip(supply)}."
        )


def _dip(supply: SupplyResult) -> str:
    """What its voltage falls by at both duties, past its rating an unknown."""
    if supply.dip is None:
        return "past its rating its voltage is not known"
    hard = "not known past its rating" if supply.dip_heavy is None else f"{short(supply.dip_heavy)} %"
    return f"its voltage falls by {short(supply.dip)} %, driven hard {hard}"


def _three_phases(page: Page, supply: SupplyResult) -> None:
    page.say(
        f"Phases uneven by {percent(supply.imbalance)} %, {percent(supply.imbalance_heavy)} % driven hard; the neutral "
        f"carries up to {reading(supply.neutral, 'A')}, {reading(supply.neutral_heavy, 'A')} driven hard "
        "(common practice, no source)."
    )


# --- what would be better -----------------------------------------------------------------------------


def _proposal(page: Page, assessment: Assessed, made: Arrangement) -> None:
    if not made.moves:
        page.say(_nothing_to_move(assessment, made))
        return
    page.say(_gain(assessment, made))
    _moves(page, assessment, made)
    page.gap()
    for words, found in (("Fixes", made.fixed), ("Adds", made.added)):
        if found:
            page.say(f"{words} " + ", ".join(f"{f.code} ({f.severity}) at {f.at}" for f in found) + ".")
    page.say(Span(cautions.MAINS_LEAD, "caution"))


def _nothing_to_move(assessment: Assessed, made: Arrangement) -> str:
    if not any(f.severity != "note" for f in mains_findings(assessment)):
        return f"Nothing has to move: every limit is kept.{_unplaced(made)}"
    sure = "no arrangement is better." if made.proven else "none better was found."
    return f"Nothing to move: {sure}{_unplaced(made)}"


def _unplaced(made: Arrangement) -> str:
    if not made.unplaced:
        return ""
    are = "is" if len(made.unplaced) == 1 else "are"
    return f" {listed(made.unplaced)} {are} left without power: no live circuit has room. Ask for another circuit."


def _gain(assessment: Assessed, made: Arrangement) -> str:
    even = ""
    if assessment.supply.imbalance is not None:
        even = f", phases uneven by {percent(made.before.imbalance)} → {percent(made.after.imbalance)} %"
    sure = "No fewer moves do as much." if made.proven else "A better arrangement may exist."
    return (
        f"Move {len(made.moves)} of {len(assessment.amplifiers)} amplifiers. Worst loading at programme "
        f"{percent(made.before.worst)} → {percent(made.after.worst)} %{even}. {sure}{_unplaced(made)}"
    )


def _moves(page: Page, before: Assessed, made: Arrangement) -> None:
    page.gap()
    numbers = ("then % there", "% left", "highest %")
    rows = [
        (
            f"{number}",
            step.amplifier,
            step.source or "unplugged",
            step.to or "unplug only",
            *map(percent, (step.there, step.left, step.most)),
        )
        for number, step in enumerate(made.steps, start=1)
    ]
    page.table(("step", "amplifier", "from", "to", *numbers), rows, right=("step", *numbers))
    page.gap()
    after = made.assessment.circuits
    rows = [
        (name, percent(circuit.loading), percent(after[name].loading))
        for name, circuit in before.circuits.items()
        if abs(circuit.loading - after[name].loading) > SAME
    ]
    page.table(("circuit", "% before", "% after"), rows, right=("% before", "% after"))
