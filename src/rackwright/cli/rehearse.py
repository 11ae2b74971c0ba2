"""`rehearse`: every failure in turn, with the best plan for it."""

import sys
from typing import Any

import click

from rackwright.cli.opening import opened
from rackwright.cli.page import Page, Span, emit
from rackwright.cli.recover import criteria_report, move_report
from rackwright.cli.report import REPORT_FORMAT, json_text
from rackwright.cli.words import RIG
from rackwright.engine import cautions, recovery
from rackwright.engine.recovery import Rehearsal, Rehearsed
from rackwright.model.rig import Rig
from rackwright.units.wording import few
from rackwright.workers import Workers

MOST_FAILURES = 25
"""Failures told unless all are asked for."""
BAR = 30
"""Cells of the progress bar."""


@click.command()
@click.argument("rig", type=RIG)
@click.option("--all", "everything", is_flag=True, help="List every failure, harmless ones too.")
@click.option("--quick", is_flag=True, help="Show the first plans found; look for no better ones.")
@click.option("--json", "as_json", is_flag=True, help="Print the report as JSON.")
def command(rig: str, everything: bool, quick: bool, as_json: bool) -> int:
    """Try every failure in turn: what it costs, and the best plan.

    Shows the worst first, and what would help most before the show. Ctrl+C while better plans are looked for shows those
    found so far.
    """
    loaded = opened(rig).rig
    watched = sys.stderr is not None and sys.stderr.isatty()
    with Workers() as workers:
        stages = recovery.stages(loaded, proof=not quick, answers=workers.answers)
        found = next(stages)
        try:
            for found in stages:
                if watched:
                    _bar(found)
        except KeyboardInterrupt:
            if found.stage == "first plans":
                raise
    if watched:
        sys.stderr.write("\r\x1b[K")
    if as_json:
        emit(json_text(rehearsal_report(loaded, found)))
    else:
        rehearsal_page(loaded, found, everything).print()
    return 1 if found.for_good else 0


def _bar(found: Rehearsal) -> None:
    """Draw how far it is, over what was drawn before."""
    cells = BAR * found.done // found.total
    told = f"{found.stage} {found.done} of {found.total}"
    sys.stderr.write(f"\r\x1b[K[{'#' * cells}{'.' * (BAR - cells)}] {told}")
    sys.stderr.flush()


def rehearsal_page(rig: Rig, found: Rehearsal, everything: bool) -> Page:
    """The failures, the cabinets at risk, and the spares that would help."""
    page = Page()
    page.say(Span(rig.title, "bold"))
    page.heading("Best plan per failure, worst first")
    told = found.failures if everything else found.failures[:MOST_FAILURES]
    numbers = ("lost", "silent", "weight", "level", "takes")
    rows = [
        (
            f.shown_kind,
            f"{f.name}{f' and {len(f.like)} like it' if f.like else ''}",
            f"{len(f.lost)}",
            f"{len(f.plan.silent)}",
            f"{f.best.silence:.2f}",
            f.plan.level,
            f.plan.takes,
            f.plan.first,
        )
        for f in told
    ]
    page.table(("fails", "", *numbers, "first move"), rows, right=numbers)
    if len(told) < len(found.failures):
        page.say(Span(f"{len(found.failures) - len(told)} more cost less: list them with --all.", "dim"))
    page.heading("Priority 1 that stays silent after one failure")
    for cabinet, names in found.for_good.items():
        page.say(Span(cabinet, "bold"), f"by {few(names)}.", rest="  ")
    if not found.for_good:
        page.say("None.")
    page.heading("What would help before the show, most first")
    for sentence in found.advice:
        page.say(sentence, rest="  ")
    page.gap()
    page.say(Span(cautions.RECOVERING, "caution"))
    return page


def rehearsal_report(rig: Rig, found: Rehearsal) -> dict[str, Any]:
    """The report of `rehearse` as plain data."""
    return {
        "format": REPORT_FORMAT,
        "rig": rig.name,
        "failures": [_failure_report(failure) for failure in found.failures],
        "silent_for_good": [{"cabinet": name, "failures": by} for name, by in found.for_good.items()],
        "before_the_show": [
            {
                "kind": each.kind,
                "what": each.what or None,
                "rack": each.rack or None,
                "exchanged": each.exchanged,
                "helps": each.helps,
                "failures": each.number,
                "silent_weight_saved": each.silent,
                "balance_saved_db": each.balance,
                "level_saved_db": each.level,
            }
            for each in found.helps
        ],
    }


def _failure_report(failure: Rehearsed) -> dict[str, Any]:
    return {
        "id": failure.name,
        "kind": failure.kind,
        "lost": failure.lost,
        "like": failure.like,
        "silent_weight_before": failure.broken.silence,
        **criteria_report(failure.best),
        "list_s": failure.plan.seconds,
        "kinds": failure.plan.kinds,
        "moves_made": [move_report(move) for move in failure.plan.moves],
        "silent": failure.plan.silent,
        "silent_for_good": failure.for_good,
        "proven": failure.proven,
    }
