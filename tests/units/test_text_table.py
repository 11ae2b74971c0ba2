"""Lines and tables: they fit, no word is lost, and none is parted that fits a line."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rackwright.units.text_table import cells, table, wrap


def drawn(heads: tuple[str, ...], rows: list[tuple[str, ...]], width: int) -> list[str]:
    return [
        line
        for above, below in table(heads, rows, width, right=[head for head in heads if "figure" in head])
        for line in (*above, *below)
    ]


words = st.text("abΩ漢é-. 12%\xa0", max_size=40).map(str.lstrip)


@given(words, st.integers(8, 30))
def test_a_sentence_keeps_its_words_and_its_width(text: str, width: int) -> None:
    lines = wrap(text, width, "  ", "> ")
    assert all(cells(line) <= width for line in lines)
    assert "".join("".join(lines).split()).removeprefix(">") == "".join(text.split())
    whole = [word for word in text.split() if cells(word) <= width - 2]
    assert all(word in [part for line in lines for part in line.removeprefix("> ").split()] for word in whole)


def test_a_figure_is_not_parted_from_its_unit() -> None:
    assert wrap("Load 2.67 Ω is under the 4 Ω that A13 drives", 24) == [
        "Load 2.67 Ω is under the",
        "4 Ω that A13 drives",
    ]


def test_a_thing_is_not_parted_from_its_number_in_brackets() -> None:
    assert wrap("Switch amplifier A1 (unit 3), then A2 on.", 26) == [
        "Switch amplifier A1",
        "(unit 3), then A2 on.",
    ]


def test_a_word_of_any_length_is_parted_after_a_few_looks_a_line() -> None:
    looked = []

    def size(text: str) -> float:
        looked.append(text)
        return len(text)

    lines = wrap("x" * 20_000, 70, size=size)
    assert [len(line) for line in lines] == [70] * 285 + [50]
    assert len(looked) < 20 * len(lines)


def test_a_text_that_is_set_in_stays_so() -> None:
    assert wrap("  load 2 Ω is under 4 Ω", 14, "- ") == ["  load 2 Ω is", "-   under 4 Ω"]


def test_what_no_break_spaces_hold_is_parted_only_where_it_must_be() -> None:
    assert wrap("one two\xa0three", 10) == ["one", "two three"]
    assert wrap("one two\xa0three", 6) == ["one", "two", "three"]


@given(
    st.lists(st.tuples(words, words, st.floats(0, 1e6).map(lambda n: f"{n:.3g}")), max_size=6),
    st.integers(12, 40),
)
def test_a_table_fits_and_parts_no_word(rows: list[tuple[str, str, str]], width: int) -> None:
    lines = drawn(("one", "other", "figure"), rows, width)
    assert all(cells(line) <= width for line in lines)
    told = {word.strip(",:") for line in lines for word in line.split()}
    assert {
        word.strip(",:") for row in rows for cell in row for word in cell.split() if cells(word) <= width - 3
    } <= told


def test_a_table_s_figures_stand_to_the_right() -> None:
    assert drawn(("id", "figure"), [("A1", "5"), ("A10", "1750")], 80) == [
        "id   figure",
        "A1        5",
        "A10    1750",
    ]


def test_a_head_gives_way_before_a_cell() -> None:
    assert drawn(("name", "a figure"), [("SUB-L1", "1750 W")], 14) == [
        "name         a",
        "        figure",
        "SUB-L1  1750 W",
    ]


def test_a_table_too_wide_goes_on_by_the_columns_that_name_a_row() -> None:
    rows = [("L1", "1", "STAGE-BOX-1", "FILL-LEFT"), ("L1", "2", "STAGE-BOX-1", "FILL-LEFT")]
    assert drawn(("line", "pair", "from", "to"), rows, 24) == [
        "line  pair  from",
        "L1    1     STAGE-BOX-1",
        "L1    2     STAGE-BOX-1",
        "line  pair  to",
        "L1    1     FILL-LEFT",
        "L1    2     FILL-LEFT",
    ]


def test_ids_too_long_for_any_table_are_told_by_their_heads() -> None:
    assert drawn(("from", "to"), [("STAGE-BOX-1", "FILL-LEFT")], 18) == [
        "from STAGE-BOX-1,",
        "  to FILL-LEFT",
    ]


@pytest.mark.parametrize(("text", "taken"), [("Ω", 1), ("漢", 2), ("e\u0301", 1), ("−1 %", 4)])
def test_a_text_takes_so_many_columns(text: str, taken: int) -> None:
    """Unicode Standard Annex 11: wide signs take two columns, combining ones none."""
    assert cells(text) == taken


def test_a_long_id_is_parted_behind_a_joint_where_one_is_not_too_far_back() -> None:
    assert wrap("TOP-RIGHT-ON-POLE-BEHIND-THE-BAR", 16) == ["TOP-RIGHT-ON-", "POLE-BEHIND-THE-", "BAR"]
    assert wrap("a-LONGWITHOUTANYJOINT", 10) == ["a-LONGWITH", "OUTANYJOIN", "T"]
    assert wrap("/srv/rigs/harbour-shed/first.toml", 14) == ["/srv/rigs/", "harbour-shed/", "first.toml"]


def test_a_figure_in_quotes_or_brackets_keeps_its_unit() -> None:
    assert wrap('Write a length such as "25 m", or 80 ft', 27) == [
        "Write a length such as",
        '"25 m", or 80 ft',
    ]


def test_no_short_word_is_left_alone_in_the_last_line() -> None:
    assert wrap("a local code and an electrician decide", 34) == ["a local code and an", "electrician decide"]
    assert wrap("cables, racks and feeds …", 23) == ["cables, racks", "and feeds …"]
    assert wrap("a breaker of 16 A trips", 17) == ["a breaker of", "16 A trips"], "a figure keeps its unit"
    assert wrap("Rack R1: Bring amp-4ch-1200", 15) == ["Rack R1: Bring", "amp-4ch-1200"]
