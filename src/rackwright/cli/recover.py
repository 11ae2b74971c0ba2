"""The commands and pages for `recover` and `rehearse`: plans for a failure, and every failure in turn."""

import datetime
import sys
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

import click

from rackwright.cli.page import Page, Span, emit
from rackwright.cli.status import USAGE
from rackwright.engine import cautions

if TYPE_CHECKING:
    from rackwright.engine.recovery import Move, Plan, Rank, Recovery, Rehearsal, Rehearsed, SpareWorth
    from rackwright.engine.results import Finding
    from rackwright.model.rig import Rig, Step

REPORT_FORMAT = 1
MOST_FAILURES = 25
"""Failures told unless all are asked for."""
BAR = 30
"""Cells of the progress bar."""


# --- recover ------------------------------------------------------------------------------------------


@click.command()
@click.argument("rig")
@click.option(
    "--failed",
    metavar="NAME",
    multiple=True,
    help="A failed channel (A1.2), amplifier or rack; repeat for more.",
)
@click.option("--circuit", metavar="NAME", multiple=True, help="A dead circuit; repeat for more.")
@click.option(
    "--plan", "number", type=click.IntRange(1), default=1, help="The plan to show in full, or to apply."
)
@click.option(
    "--apply", "target", metavar="OUT", help="Write the rig after the plan to OUT: a new file, or RIG's own."
)
@click.option("--json", "as_json", is_flag=True, help="Print the report as JSON.")
def recover(
    rig: str,
    failed: tuple[str, ...],
    circuit: tuple[str, ...],
    number: int,
    target: str | None,
    as_json: bool,
) -> int:
    """Find plans that bring the sound back after a failure.

    What RIG marks as failed counts too. Exit status 0: nothing stays silent with the best plan; 1: something does;
    3: the file can't be used.
    """
    from rackwright.cli.opening import Refusal, opened
    from rackwright.cli.saving import see_that_it_is_free, tell_saved, write

    source = opened(rig)
    if target is not None:
        see_that_it_is_free(target, source.file)

    from rackwright.engine import recovery
    from rackwright.model.edits import EditError
    from rackwright.model.readings import stamp

    _refuse_other_than_circuits(source.rig, circuit)
    try:
        found = recovery.recover(source.rig, (*failed, *circuit), standing=recovery.standing(source.rig))
    except EditError as error:
        raise Refusal(str(error), USAGE) from None
    if not found.failed:
        raise Refusal("Nothing has failed. Name what has: --failed A1.2, or --circuit P1.", USAGE)
    if number > len(found.plans):
        raise Refusal(f"There are {len(found.plans)} plans, and no plan {number}.", USAGE)
    chosen = found.plans[number - 1]
    after = recovery.take(chosen, stamp(datetime.datetime.now()))
    aside = write(after, target) if target is not None else None
    if as_json:
        emit(_json(recovery_report(source.rig, found)))
    else:
        page = recovery_page(source.rig, found, number)
        if target is not None:
            tell_saved(page, target, aside)
        page.print()
    return 1 if found.best.rank.silent else 0


def _refuse_other_than_circuits(rig: "Rig", names: Iterable[str]) -> None:
    from rackwright.cli.opening import Refusal
    from rackwright.model.rules import missing

    known = [circuit.id for circuit in rig.circuits]
    for name in names:
        if name not in known:
            wrong, advice = missing("circuit", name, known)
            raise Refusal(f"{wrong}. {advice}", USAGE)


def recovery_page(rig: "Rig", found: "Recovery", number: int) -> Page:
    """What is lost, the plans beside one another, and one of them in full."""
    from rackwright.engine.recovery import few

    page = Page()
    page.say(Span(rig.title, "bold"))
    page.say(f"Failed: {few(found.failed)}.")
    page.say(f"Now silent: {few(found.lost)}." if found.lost else "Nothing is silent.")
    page.heading("Plans, best first")
    numbers = ("silent", "dB lost", "moves", "warnings")
    rows = [
        (f"{i}", plan.title, f"{len(plan.silent)}", *_ranked(plan.rank)[1:])
        for i, plan in enumerate(found.plans, start=1)
    ]
    page.table(("", "plan", *numbers), rows, right=("", *numbers))
    page.say(Span(_sure(found), "dim"))
    _plan(page, found.plans[number - 1], number)
    page.gap()
    page.say(Span(cautions.RECOVERING, "caution"))
    return page


def _sure(found: "Recovery") -> str:
    if found.proven:
        return "Plan 1 is the best possible."
    if found.depth:
        return f"Plan 1 is the best of up to {found.depth} moves; a longer plan may be better."
    return "Plan 1 is the best found; a better one may exist."


def _plan(page: Page, plan: "Plan", number: int) -> None:
    page.heading(f"Plan {number}: {plan.title[:1].lower()}{plan.title[1:]}")
    _steps(page, plan.checklist)
    page.heading("What it costs")
    for sentence in plan.costs:
        page.say(sentence)
    for finding in plan.near:
        page.say(Span(finding.severity, finding.severity), finding.sentence, rest="     ")
    page.heading("Return, after repair")
    _steps(page, plan.way_back)


def _steps(page: Page, steps: Sequence["Step"]) -> None:
    width = len(f"{len(steps)}")
    for i, step in enumerate(steps, start=1):
        page.say(step.words, first=f"{i:>{width}}. [ ] ")


# --- rehearse -----------------------------------------------------------------------------------------


@click.command()
@click.argument("rig")
@click.option("--all", "everything", is_flag=True, help="List every failure, harmless ones too.")
@click.option("--json", "as_json", is_flag=True, help="Print the report as JSON.")
def rehearse(rig: str, everything: bool, as_json: bool) -> int:
    """Try every failure in turn: what it costs, and the best plan.

    Shows the worst first, and which single spare would help most. Exit status 1 where one failure would silence a cabinet
    of priority 1 for good; 3: the file can't be used.
    """
    from rackwright.cli.opening import opened

    loaded = opened(rig).rig

    from rackwright.engine import recovery

    found = recovery.rehearse(loaded, progress=_bar if sys.stderr.isatty() else None)
    if as_json:
        emit(_json(rehearsal_report(loaded, found)))
    else:
        rehearsal_page(loaded, found, everything).print()
    return 1 if found.for_good else 0


def _bar(done: int, total: int) -> None:
    """Draw how far it is, over what was drawn before; wipe it at the end."""
    cells = BAR * done // total
    drawn = f"\r[{'#' * cells}{'.' * (BAR - cells)}] {done} of {total}"
    sys.stderr.write(drawn if done < total else f"\r{' ' * len(drawn)}\r")
    sys.stderr.flush()


def rehearsal_page(rig: "Rig", found: "Rehearsal", everything: bool) -> Page:
    """The failures, the cabinets at risk, and the spares that would help."""
    from rackwright.engine.recovery import few

    page = Page()
    page.say(Span(rig.title, "bold"))
    page.heading("Best plan per failure, worst first")
    told = found.failures if everything else found.failures[:MOST_FAILURES]
    numbers = ("lost", "silent", "dB lost", "moves", "warnings")
    rows = [
        (f.kind, f.name, f"{len(f.lost)}", f"{len(f.silent)}", *_ranked(f.best)[1:], ", ".join(f.means))
        for f in told
    ]
    page.table(("fails", "", *numbers, "plan"), rows, right=numbers)
    if len(told) < len(found.failures):
        page.say(Span(f"{len(found.failures) - len(told)} more cost less: list them with --all.", "dim"))
    page.heading("Priority 1 that stays silent after one failure")
    for cabinet, names in found.for_good.items():
        page.say(Span(cabinet, "bold"), f"by {few(names)}.", rest="  ")
    if not found.for_good:
        page.say("None.")
    page.heading("Spares that would help, most first")
    for spare in found.spares[:MOST_FAILURES]:
        page.say(_worth(spare), rest="  ")
    if not found.spares:
        page.say("No spare would help.")
    page.gap()
    page.say(Span(cautions.RECOVERING, "caution"))
    return page


def _worth(spare: "SpareWorth") -> str:
    from rackwright.engine.recovery import few

    what = (
        f"a spare channel of a {spare.what} in {spare.rack}"
        if spare.kind == "channel"
        else f"a spare {spare.what}"
    )
    saves = f"{len(spare.helps)} failure{'' if len(spare.helps) == 1 else 's'} cost less"
    return f"{what[:1].upper()}{what[1:]}: {saves}: {few(spare.helps)}."


# --- reports ------------------------------------------------------------------------------------------


def recovery_report(rig: "Rig", found: "Recovery") -> dict[str, Any]:
    """The report of `recover` as plain data."""
    return {
        "format": REPORT_FORMAT,
        "rig": rig.name,
        "failed": found.failed,
        "lost": found.lost,
        "proven": found.proven,
        "proven_moves": found.depth,
        "plans": [_plan_report(plan) for plan in found.plans],
    }


def _plan_report(plan: "Plan") -> dict[str, Any]:
    return {
        "kinds": plan.kinds,
        **_rank_report(plan.rank),
        "moves": [_move_report(move) for move in plan.moves],
        "silent": plan.silent,
        "like_feed": [{"section": section, "feed": feed} for section, feed in plan.like],
        "levels": [
            {"feed": level.feed, "section": level.section, "loss_db": level.loss, "sections": level.sections}
            for level in plan.levels
        ],
        "damping": [{"section": d.section, "before": d.before, "after": d.after} for d in plan.damping],
        "limiters": [
            {
                "channel": channel,
                "feed": limiter.feed,
                "rms_v": limiter.rms,
                "peak_v": limiter.peak,
                "rms_dbu": limiter.rms_dbu,
                "peak_dbu": limiter.peak_dbu,
                "was_rms_v": limiter.was_rms,
                "was_peak_v": limiter.was_peak,
                "why": limiter.why,
            }
            for limiter in plan.limiters
            for channel in limiter.channels
        ],
        "findings": [_finding_report(finding) for finding in plan.near],
        "checklist": [_step_report(step) for step in plan.checklist],
        "way_back": [_step_report(step) for step in plan.way_back],
    }


def rehearsal_report(rig: "Rig", found: "Rehearsal") -> dict[str, Any]:
    """The report of `rehearse` as plain data."""
    return {
        "format": REPORT_FORMAT,
        "rig": rig.name,
        "failures": [_failure_report(failure) for failure in found.failures],
        "silent_for_good": [{"cabinet": name, "failures": by} for name, by in found.for_good.items()],
        "spares": [
            {
                "kind": s.kind,
                "what": s.what,
                "rack": s.rack or None,
                "helps": s.helps,
                "silent_weight_saved": s.silent,
                "loss_left_db": s.loss,
            }
            for s in found.spares
        ],
    }


def _failure_report(failure: "Rehearsed") -> dict[str, Any]:
    return {
        "id": failure.name,
        "kind": failure.kind,
        "lost": failure.lost,
        "silent_weight_before": failure.broken.silent,
        **_rank_report(failure.best),
        "kinds": failure.means,
        "moves_made": [_move_report(move) for move in failure.moves],
        "silent": failure.silent,
        "silent_for_good": failure.for_good,
    }


def _rank_report(rank: "Rank") -> dict[str, Any]:
    return {
        "silent_weight": rank.silent,
        "loss_db": rank.loss,
        "move_count": rank.moves,
        "new_warns": rank.warns,
    }


def _move_report(move: "Move") -> dict[str, Any]:
    return {
        "kind": move.kind,
        "place": str(move.place),
        "from": move.old,
        "to": move.new,
        "by": move.by,
        "words": move.words,
    }


def _step_report(step: "Step") -> dict[str, Any]:
    return {"kind": step.kind, "words": step.words, "place": step.place}


def _finding_report(finding: "Finding") -> dict[str, Any]:
    return {"code": finding.code, "severity": finding.severity, "at": finding.at, "message": finding.message}


def _json(report: dict[str, Any]) -> str:
    import msgspec

    return msgspec.json.format(msgspec.json.encode(report), indent=1).decode() + "\n"


def _ranked(rank: "Rank") -> tuple[str, ...]:
    return f"{rank.silent:g}", f"{rank.loss:g}", f"{rank.moves}", f"{rank.warns}"
