"""A page in colour says what it says without; every sign of a working can be spelled out."""

import re

from rackwright.cli.page import Page, Span
from rackwright.engine.workings import known_places, places
from rackwright.units.typography import spelled
from shipped import assessed


def test_colour_changes_no_word() -> None:
    plain, coloured = Page(), Page()
    coloured.coloured = True
    for page in (plain, coloured):
        page.width = 40
        page.say(
            Span("stop", "stop"), Span("A1.1", "bold"), "load 2\xa0Ω is under the 4 Ω it drives", first=" 1. "
        )
        page.table(("id", "W"), [("A1", "5")])
    assert coloured.lines[0].startswith(" 1. \x1b[1;31mstop\x1b[0m \x1b[1mA1.1\x1b[0m load")
    assert [re.sub(r"\x1b\[[\d;]*m", "", line) for line in coloured.lines] == plain.lines


def test_every_sign_of_a_working_can_be_spelled_out() -> None:
    rig = assessed("outdoor-stage")
    for name in known_places(rig):
        for place in places(rig, name):
            for shown in place.shown:
                if shown.value is not None:
                    for step in place.explainers[shown.figure.name]():
                        said = " ".join((step.what, step.formula, step.numbers, step.result, step.source))
                        assert "?" not in spelled(said), said
