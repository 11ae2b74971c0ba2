"""`recover`: plans for a failure."""

import datetime
from collections.abc import Iterable, Sequence
from typing import Any

import click

from rackwright.cli.opening import Refusal, opened
from rackwright.cli.page import Page, Span, emit
from rackwright.cli.report import REPORT_FORMAT, json_text
from rackwright.cli.saving import see_that_it_is_free, tell_saved, write
from rackwright.cli.status import USAGE
from rackwright.cli.words import CIRCUIT, FALLIBLE, FILE, RIG
from rackwright.engine import cautions, recovery
from rackwright.engine.finding import Finding
from rackwright.engine.recovery import Criteria, Plan, Recovery, short
from rackwright.model.edits import EditError
from rackwright.model.night import Rewiring, Step, moment
from rackwright.model.rig import Rig
from rackwright.model.rules import missing
from rackwright.units.wording import few


@click.command()
@click.argument("rig", type=RIG)
@click.option(
    "--failed",
    metavar="NAME",
    type=FALLIBLE,
    multiple=True,
    help="What failed: A1.2, A1.2=input, A1, R1, C1, C1/2, TOP-L1.high=shorted, sub, L2; repeat for more.",
)
@click.option(
    "--circuit", metavar="NAME", type=CIRCUIT, multiple=True, help="A dead circuit; repeat for more."
)
@click.option(
    "--plan", "number", type=click.IntRange(1), default=1, help="The plan to show in full, or to apply."
)
@click.option(
    "--apply",
    "target",
    metavar="OUT",
    type=FILE,
    help="Write the rig after the plan to OUT: a new file, or RIG's own.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the report as JSON.")
def command(
    rig: str,
    failed: tuple[str, ...],
    circuit: tuple[str, ...],
    number: int,
    target: str | None,
    as_json: bool,
) -> int:
    """Find plans that bring the sound back after a failure.

    What RIG marks as failed counts too.
    """
    source = opened(rig)
    if target is not None:
        see_that_it_is_free(target, source.file)

    _refuse_other_than_circuits(source.rig, circuit)
    try:
        found = recovery.recover(source.rig, (*failed, *circuit), planned=recovery.planned(source.rig))
    except EditError as error:
        raise Refusal(str(error), USAGE) from None
    if not found.failed:
        raise Refusal("Nothing has failed. Name what has: --failed A1.2, or --circuit P1.", USAGE)
    if number > len(found.plans):
        raise Refusal(f"There are {len(found.plans)} plans, and no plan {number}.", USAGE)
    chosen = found.plans[number - 1]
    broken = found.broken.index.rig
    after = recovery.take(broken, chosen.failed, chosen.moves, chosen.title, moment(datetime.datetime.now()))
    aside = write(after, target) if target is not None else None
    if as_json:
        emit(json_text(recovery_report(source.rig, found)))
    else:
        page = recovery_page(source.rig, found, number)
        if target is not None:
            tell_saved(page, target, aside)
        page.print()
    return 1 if found.best.criteria.silence else 0


def _refuse_other_than_circuits(rig: Rig, names: Iterable[str]) -> None:
    known = [circuit.id for circuit in rig.circuits]
    for name in names:
        if name not in known:
            wrong, advice = missing("circuit", name, known)
            raise Refusal(f"{wrong}. {advice}", USAGE)


def recovery_page(rig: Rig, found: Recovery, number: int) -> Page:
    """What is lost, the plans beside one another, and one of them in full."""
    page = Page()
    page.say(Span(rig.title, "bold"))
    page.say(Span(cautions.SMOKE, "caution"))
    page.say(f"Failed: {few(recovery.named(rig, found.failed))}.")
    page.say(f"Now silent: {few(found.lost)}." if found.lost else "Nothing is silent.")
    page.heading("Plans, best first")
    numbers = ("takes", "silent", "level")
    rows = [
        (
            f"{i}",
            plan.opening,
            plan.takes,
            f"{len(plan.silent)}",
            plan.level,
            plan.shown_as,
        )
        for i, plan in enumerate(found.plans, start=1)
    ]
    page.table(("", "first move", *numbers, "shown as"), rows, right=("", *numbers))
    page.say(Span(f"{found.told} {found.unsearched}".rstrip(), "dim"))
    _plan(page, found.plans[number - 1], number)
    page.gap()
    page.say(Span(cautions.RECOVERING, "caution"))
    return page


def _plan(page: Page, plan: Plan, number: int) -> None:
    page.heading(f"Plan {number}: {plan.title[:1].lower()}{plan.title[1:]}")
    _steps(page, plan.steps)
    page.heading("What it costs")
    for sentence in plan.costs:
        page.say(sentence)
    for text in plan.unsure:
        page.say(f"Only if {text}: look first.")
    for finding in plan.near:
        page.say(Span(finding.severity, finding.severity), finding.sentence, rest="     ")


def _steps(page: Page, steps: Sequence[Step]) -> None:
    width = len(f"{len(steps)}")
    for i, step in enumerate(steps, start=1):
        quiet = f" {step.quiet}: {recovery.gap(step.silent_for)}." if step.quiet else ""
        page.say(
            f"{step.where[:1].upper()}{step.where[1:]}: {step.words}{quiet}", first=f"{i:>{width}}. [ ] "
        )


def recovery_report(rig: Rig, found: Recovery) -> dict[str, Any]:
    """The report of `recover` as plain data."""
    return {
        "format": REPORT_FORMAT,
        "rig": rig.name,
        "failed": found.failed,
        "lost": found.lost,
        "proven": found.proven,
        "unsearched": recovery.UNSEARCHED,
        "plans": [_plan_report(plan) for plan in found.plans],
    }


def _plan_report(plan: Plan) -> dict[str, Any]:
    return {
        "kinds": plan.kinds,
        "shown_as": plan.roles,
        **criteria_report(plan.criteria),
        "list_s": plan.seconds,
        "full": plan.full,
        "moves": [move_report(move) for move in plan.moves],
        "silent": plan.silent,
        "like_feed": [{"section": section, "feed": feed} for section, feed in plan.like],
        "changes": [{"section": each.section, "change_db": each.change} for each in plan.changes],
        "levels": [
            {"feed": level.feed, "section": level.section, "loss_db": level.loss, "sections": level.sections}
            for level in plan.levels
        ],
        "damping": [{"section": d.section, "before": d.before, "after": d.after} for d in plan.damping],
        "limited_early": plan.early,
        "only_if": plan.unsure,
        "findings": [_finding_report(finding) for finding in plan.near],
        "steps": [_step_report(step) for step in plan.steps],
    }


def criteria_report(criteria: Criteria) -> dict[str, Any]:
    return {
        "silent_weight": criteria.silence,
        "balance_db": criteria.balance,
        "change_db": criteria.change,
        "loss_db": criteria.loss,
        "seconds_s": criteria.seconds,
        "muted_weight_s": criteria.hush,
        "new_warns": criteria.warns,
        "spares": criteria.spares,
        "racks": criteria.racks,
    }


def move_report(move: Rewiring) -> dict[str, Any]:
    return {
        "kind": move.kind,
        "place": move.at,
        "from": move.old,
        "to": move.new,
        "by": move.by,
        "words": short(move),
    }


def _step_report(step: Step) -> dict[str, Any]:
    return {
        "kind": step.kind,
        "where": step.where,
        "words": step.words,
        "places": step.at,
        "seconds_s": step.seconds,
        "quiet": step.quiet,
    }


def _finding_report(finding: Finding) -> dict[str, Any]:
    return {"code": finding.code, "severity": finding.severity, "at": finding.at, "message": finding.message}
