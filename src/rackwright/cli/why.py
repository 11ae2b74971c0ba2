"""Pages for `why`: the figures that a place has, and how one of them came about."""

from collections.abc import Sequence

from rackwright.cli.page import Page, Span
from rackwright.engine import cautions
from rackwright.engine.workings import Place, Working
from rackwright.units import reading


def figures_page(places: Sequence[Place]) -> Page:
    """The figures of a place with their limits, and what to ask `why` for."""
    page = Page()
    for place in places:
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
            page.table(("figure", "value", "limit", "name for why"), rows, ("value",), ("name for why",))
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
            page.say(step.formula, first=" " * 6)
            numbers = step.numbers if step.numbers != step.result else ""
            page.say(numbers, Span(f"= {step.result}", "bold"), first=" " * 6)
            page.say(Span(f"source: {step.source}", "dim"), first=" " * 6)
    if cautious:
        page.gap()
        page.say(Span(cautions.PLANNING, "caution"))
    return page
