"""Names in a sentence: those that count on told as one, and none lost by it."""

from hypothesis import given
from hypothesis import strategies as st

from rackwright.units.wording import few, listed, runs, some

NAMES = st.lists(st.from_regex(r"[AC-](0|1\.)?[0-9]?[0-9]?", fullmatch=True))


@given(NAMES, st.integers(0, 200), st.integers(0, 5))
def test_runs_tell_each_name_in_its_order(names: list[str], first: int, more: int) -> None:
    names += [f"C{number}" for number in range(first, first + more)]
    told: list[str] = []
    for part in runs(names).replace(",", "").split():
        low, _, last = part.partition("–")
        stem = low.rstrip("0123456789")
        told += [f"{stem}{n}" for n in range(int(low[len(stem) :]), int(last) + 1)] if last else [low]
    assert told == names


def test_what_counts_on_is_told_as_one_from_three_names_on() -> None:
    assert runs(["A1.1", "A1.2", "A1.3", "A2.1", "A2.2", "C9", "C10", "C11"]) == "A1.1–3, A2.1, A2.2, C9–11"


@given(st.lists(st.from_regex(r"[AC-][0-9]{1,9}", fullmatch=True), unique=True), st.integers(1, 8))
def test_names_left_out_save_room_or_are_named(names: list[str], most: int) -> None:
    for told, full in ((some(names, most), ", ".join(names)), (few(names, most), listed(names))):
        assert len(told) <= len(full)
        if told != full:
            first, _, rest = told.partition(" and ")
            assert first.split(", ") == names[:most]
            assert rest == f"{len(names) - most} more"


def test_a_last_short_name_is_named() -> None:
    assert few(["P3", "P5", "P6", "P8"], 3) == "P3, P5, P6 and P8"
    assert some(["P3", "P5", "P6", "P8"], 3) == "P3, P5, P6, P8"
    assert few(["MON-1.full", "MON-2.full", "MON-3.full"], 2) == "MON-1.full, MON-2.full and 1 more"
