"""A page's sentences and tables: they fit, and no word is lost."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rackwright.cli.page import SPELLED_OUT, Page, Span, cells, wrapped
from rackwright.engine.assess import assess
from rackwright.engine.workings import known_places, places
from rackwright.store import presets
from rackwright.store.rig_file import load

words = st.text("abΩ漢é-. 12%", max_size=40)


@given(st.lists(st.tuples(words, st.sampled_from(["", "bold"])), max_size=4), st.integers(8, 30))
def test_a_sentence_keeps_its_words_and_its_width(spans: list[tuple[str, str]], width: int) -> None:
    lines = wrapped([Span(text, style) for text, style in spans], width, "> ", "  ")  # type: ignore[arg-type]
    drawn = ["".join(span.text for span in line) for line in lines]
    assert all(cells(line) <= width for line in drawn)
    said = "".join(line[2:] for line in drawn).replace(" ", "")
    assert said == "".join(text for text, _ in spans).replace(" ", "")


def test_a_figure_is_not_parted_from_its_unit() -> None:
    lines = wrapped([Span("Load 2.67 Ω is under the 4 Ω that A13 drives")], 24)
    drawn = ["".join(span.text for span in line) for line in lines]
    assert drawn == ["Load 2.67 Ω is under the", "4 Ω that A13 drives"]


@given(st.lists(st.tuples(words, words, st.floats(0, 1e6).map(lambda n: f"{n:.3g}")), max_size=6))
def test_a_table_fits(rows: list[tuple[str, str, str]]) -> None:
    page = Page()
    page.width = 40
    page.table(("one", "other", "figure"), rows, right=("figure",))
    assert all(cells(line) <= 40 for line in page.lines)
    assert page.lines[0].split() == ["one", "other", "figure"]


def test_a_table_s_figures_stand_to_the_right() -> None:
    page = Page()
    page.table(("id", "W"), [("A1", "5"), ("A10", "1750")], right=("W",))
    assert page.lines == ["id      W", "A1      5", "A10  1750"]


@pytest.mark.parametrize(("text", "taken"), [("Ω", 1), ("漢", 2), ("e\u0301", 1), ("−1 %", 4)])
def test_a_text_takes_so_many_columns(text: str, taken: int) -> None:
    """Unicode Standard Annex 11: wide signs take two columns, combining ones none."""
    assert cells(text) == taken


@pytest.mark.parametrize(
    ("text", "plain"), [("2.5 mm² → 4 Ω", "2.5 mm2 -> 4 ohm"), ("Müller", "Muller"), ("漢", "?")]
)
def test_a_sign_that_an_encoding_lacks_is_spelled_out(text: str, plain: str) -> None:
    assert text.encode("ascii", SPELLED_OUT).decode() == plain


def test_every_sign_of_a_working_can_be_spelled_out() -> None:
    rig = assess(load(presets.shipped_folder() / "outdoor-stage.toml"))
    for name in known_places(rig):
        for place in places(rig, name):
            for shown in place.shown:
                if shown.value is not None:
                    for step in place.explainers[shown.figure.name]():
                        said = " ".join((step.what, step.formula, step.numbers, step.result, step.source))
                        assert b"?" not in said.encode("ascii", SPELLED_OUT), said
