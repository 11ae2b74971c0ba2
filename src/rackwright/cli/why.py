"""`why`: the figures that a place has, and how one of them came about."""

from collections.abc import Sequence

import click

from rackwright.cli.opening import Refusal, opened
from rackwright.cli.page import Page, Span
from rackwright.cli.status import USAGE
from rackwright.cli.words import FIGURE, PLACE, RIG
from rackwright.engine import cautions
from rackwright.engine.assess import Assessed, assess
from rackwright.engine.workings import NoWorkingError, Place, Working, explain, places
from rackwright.units import reading
from rackwright.units.text_table import formula, numbers


@click.command()
@click.argument("rig", type=RIG)
@click.argument("place", type=PLACE)
@click.argument("figure", type=FIGURE, required=False)
def command(rig: str, place: str, figure: str | None) -> None:
    """Show how a figure is calculated, step by step.

    PLACE is a channel (A1.1), a section (SUB-L1.upper), a line (C1), a circuit (P1), an amplifier (A1), a rack
    (R1), the supply, or a phase of it (supply.L1). With no FIGURE, lists the figures of PLACE.
    """
    loaded = opened(rig).rig

    assessment = assess(loaded)
    try:
        page = (
            figures_page(places(assessment, place))
            if figure is None
            else working_page(explain(assessment, place, figure), _cautious(assessment, place))
        )
    except NoWorkingError as error:
        raise Refusal(str(error), USAGE) from None
    page.print()


def _cautious(assessment: Assessed, place: str) -> bool:
    """Whether a place has figures of the mains or of touch."""
    return place not in assessment.sections and place not in assessment.runs


def figures_page(found: Sequence[Place]) -> Page:
    """The figures of a place with their limits, and what to ask `why` for."""
    page = Page()
    for place in found:
        page.heading(place.name)
        rows = [
            (
                shown.figure.label,
                shown.figure.text(shown.value),
                f"{shown.limit.bound} {reading(shown.limit.value, shown.figure.unit)}, {shown.limit.why}"
                if shown.limit
                else "",
                shown.figure.name,
            )
            for shown in place.shown
            if shown.value is not None
        ]
        if rows:
            page.table(("figure", "value", "limit", "name for why"), rows, ("value",))
        absent = [shown.figure.name for shown in place.shown if shown.value is None]
        for reason in dict.fromkeys(map(place.absent, absent)):
            names = ", ".join(name for name in absent if place.absent(name) == reason)
            page.say(Span(f"None of {names}: {reason}.", "dim"))
    return page


def working_page(workings: Sequence[Working], cautious: bool) -> Page:
    """The steps of each working; with the caution where they are of the mains or of touch."""
    page = Page()
    for working in workings:
        if page.lines:
            page.gap()
        last = working.steps[-1]
        page.say(Span(f"{working.place}: {working.label}", "bold"), f"= {last.result}")
        for number, step in enumerate(working.steps, 1):
            page.say(step.what, first=f"{number}. ".rjust(4))
            page.say(formula(step.formula), first=" " * 6)
            put_in = (numbers(step.numbers),) if step.numbers not in ("", step.result) else ()
            page.say(*put_in, Span(f"= {step.result}", "bold"), first=" " * 6)
            page.say(Span(f"source: {step.source}", "dim"), first=" " * 6)
    if cautious:
        page.gap()
        page.say(Span(cautions.PLANNING, "caution"))
    return page
