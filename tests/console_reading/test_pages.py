"""The pages to read: every key, the working of a figure, what differs."""

import re

import pytest

import rigs
from rackwright.console import keymap
from rackwright.console.commands import COMMANDS
from rackwright.console.rows.history import effect
from rackwright.console.rows.row import width_of
from rackwright.console.screens.pages import (
    help_page,
    help_rows,
    keys_of,
    working_page,
    working_rows,
)
from rackwright.console.terminal.glyphs import ASCII, UNICODE, Glyphs
from rackwright.engine.assess import assess
from rackwright.engine.cautions import PLANNING
from rackwright.engine.finding import grouped, sentence_of
from rackwright.engine.workings import explain
from rackwright.model.diff import difference
from rackwright.units import Length, reading

from .app import Alone

ASSESSED = assess(rigs.SOUND)
widths = pytest.mark.parametrize("width", [40, 73, 93, 130])
spellings = pytest.mark.parametrize("glyphs", [UNICODE, ASCII])


def text_of(rows) -> str:
    return " ".join("\n".join("".join(text for text, _ in row.parts) for row in rows).split())


def spelt(text: str, glyphs: Glyphs) -> str:
    return " ".join(glyphs.spelt(text).split())


def fit_in(rows, width: int) -> bool:
    return all(width_of(row) <= width for row in rows)


class TestKeys:
    @widths
    @spellings
    def test_every_key_stands_beside_the_first_words_of_its_help(self, width, glyphs):
        rows = help_rows(width, glyphs)
        assert fit_in(rows, width)
        lines = ["".join(text for text, _ in row.parts) for row in rows]
        for command in COMMANDS:
            start = rf"{re.escape(command.key_words)} {{2,}}{re.escape(command.help[:12].strip())}"
            assert any(re.search(start, line) for line in lines), command
        for key, told in keymap.MOVES:
            assert any(key in line and told in line for line in lines)

    @widths
    @spellings
    def test_every_word_of_the_help_is_there(self, width, glyphs):
        shown = text_of(help_rows(width, glyphs))
        for command in COMMANDS:
            assert set(spelt(command.help, glyphs).split()) <= set(shown.split())
        assert PLANNING in shown

    def test_what_is_typed_is_looked_for_within_a_key_only_where_nothing_begins_with_it(self):
        assert "Go to the next pane" not in text_of(help_rows(80, UNICODE, "a")), "behind tab, which has an a"
        assert "Go to the next pane" in text_of(help_rows(80, UNICODE, "ab"))

    @widths
    @spellings
    def test_of_the_keys_of_one_screen_what_goes_on_in_the_next_line_stands_under_its_beginning(
        self, width, glyphs
    ):
        rows = keys_of("List", COMMANDS, glyphs).make(width)
        assert fit_in(rows, width)
        lines = ["".join(text for text, _ in row.parts) for row in rows]
        assert {len(line) - len(line.lstrip()) for line in lines if not line[:9].strip()} <= {11}
        assert len(lines) > len(COMMANDS) + 1 or width > 70

    @spellings
    async def test_the_caution_is_reached_and_escape_leaves(self, glyphs):
        app = Alone(help_page(glyphs))
        async with app.run_test(size=(80, 24)):
            assert "Build" in app.text()
            assert "esc close" in app.text()
            await app.press("end")
            assert PLANNING in app.text()
            await app.press("escape")
            assert app.given == [None]

    async def test_all_of_it_fits_on_a_large_screen(self):
        app = Alone(help_page(UNICODE))
        async with app.run_test(size=(200, 60)):
            assert "Build" in app.text()
            assert PLANNING in app.text()


class TestWorking:
    @pytest.mark.parametrize(
        ("place", "figure"), [("SUB1.upper", "damping_factor"), ("A1.1", "voltage"), ("L1", "loss")]
    )
    @widths
    @spellings
    def test_each_step_has_formula_numbers_result_and_source(self, place, figure, width, glyphs):
        for working in explain(ASSESSED, place, figure):
            rows = working_rows(working, width, glyphs)
            assert fit_in(rows, width)
            shown = text_of(rows)
            for step in working.steps:
                for part in (step.what, step.formula, step.numbers, f"source: {step.source}"):
                    assert spelt(part, glyphs) in shown
                assert spelt(f"= {reading(step.value, step.unit)}", glyphs) in spelt(shown, glyphs)

    async def test_it_ends_with_the_reported_figure(self):
        app = Alone(working_page(ASSESSED, "SUB1.upper", "damping_factor", UNICODE))
        async with app.run_test(size=(80, 24)):
            assert "SUB1.upper: Damping factor" in app.text()
            await app.press("end")
            reported = ASSESSED.sections["SUB1.upper"].damping_factor
            assert f"= {reading(reported, '')}" in app.text()

    async def test_a_line_shows_each_pole_pair_under_its_name(self):
        app = Alone(working_page(ASSESSED, "L2", "resistance", UNICODE))
        async with app.run_test(size=(140, 45)):
            assert "L2 pole pair 1" in app.text()
            assert "L2 pole pair 2" in app.text()

    @pytest.mark.parametrize(
        ("place", "figure"), [("A9", "voltage"), ("A1.1", "colour"), ("TOP1.mid", "q_total")]
    )
    async def test_where_there_is_none_it_says_why(self, place, figure):
        app = Alone(working_page(ASSESSED, place, figure, UNICODE))
        async with app.run_test(size=(80, 24)):
            assert place in app.text()
            assert "esc close" in app.text()

    @pytest.mark.parametrize(("place", "named"), [("", "The whole rig"), ("R1", "R1"), ("P1", "P1")])
    async def test_figures_at_the_mains_come_with_the_caution(self, place, named):
        app = Alone(working_page(ASSESSED, place, "heat", UNICODE))
        async with app.run_test(size=(140, 45)):
            assert f"{named}: Heat into the room" in app.text()
            await app.press("end")
            assert PLANNING in app.text()

    async def test_plain_terminals_get_plain_characters(self):
        app = Alone(working_page(ASSESSED, "A1.1", "voltage", ASCII))
        async with app.run_test(size=(140, 45)):
            shown = "\n".join(app.lines())
            assert shown.isascii()
            assert "?" not in shown
            assert "V = sqrt(P*Z)" in shown


class TestComparison:
    after = rigs.without(rigs.changed(rigs.SOUND, "L1", length=Length.parse("44 m")), "TOP1", "L2")

    @widths
    @spellings
    def test_every_change_and_every_finding_that_comes_or_goes_is_told(self, width, glyphs):
        before, after = assess(rigs.SOUND), assess(self.after)
        rows = effect(before, after, width, glyphs)
        assert fit_in(rows, width)
        shown = " ".join(text_of(rows).split())
        assert "2 removed, 1 changed" in shown
        told = [str(change) for change in difference(rigs.SOUND, self.after)]
        old = {f.sentence for f in before.findings}
        came = grouped([f for f in after.findings if f.sentence not in old])
        assert came
        told += [sentence_of(group) for group in came]
        assert all(" ".join(spelt(text, glyphs).split()) in shown for text in told)

    def test_equal_rigs_differ_in_nothing(self):
        assert "No differences." in text_of(effect(ASSESSED, ASSESSED, 80, UNICODE))
