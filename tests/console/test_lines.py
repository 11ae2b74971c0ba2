"""The racks and the lines pane: columns for the room there is, what stands at each section, why a silent one is silent."""

from types import ModuleType

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from rackwright.console.rows import lines, racks, results
from rackwright.console.rows.columns import Wishes, shares
from rackwright.console.terminal.glyphs import ASCII, UNICODE, Glyphs
from rackwright.engine.assess import assess
from rackwright.model.readings import Reading
from rackwright.model.rig import Rig
from rackwright.units.text_table import cells
from shipped import preset


def told(rig: Rig) -> dict[str, str]:
    """Place → the words of its row."""
    rows = lines.view(assess(rig), UNICODE).rows(70)
    return {row.place: "".join(text for text, _ in row.parts) for row in rows}


def test_a_silent_section_says_why() -> None:
    rig = preset("hall")
    first, *others = rig.racks
    amplifier, *rest = first.amplifiers
    fed, dead, *channels = amplifier.channels
    changed = replace(amplifier, channels=(replace(fed, feed=""), replace(dead, state="failed"), *channels))
    before, after = (
        told(rig),
        told(replace(rig, racks=(replace(first, amplifiers=(changed, *rest)), *others))),
    )
    assert "silent" not in before["SUB-L1.upper"]
    assert "silent: no feed" in after["SUB-L1.upper"]
    assert "silent: A1.2 failed" in after["SUB-L1.lower"]
    unwired = told(replace(rig, lines=()))
    assert "silent: no channel" in unwired["SUB-L1.upper"]


@pytest.mark.parametrize("name", ["hall", "faults"])
@pytest.mark.parametrize("glyphs", [UNICODE, ASCII], ids=["unicode", "ascii"])
@pytest.mark.parametrize("pane", [racks, lines], ids=["racks", "lines"])
def test_nothing_is_cut_where_there_is_room_for_what_may_not_go(
    name: str, glyphs: Glyphs, pane: ModuleType
) -> None:
    view = pane.view(assess(preset(name)), glyphs)
    need = view.wishes.need
    for width in (need - 10, *range(need, need + 40, 3)):
        texts = ["".join(text for text, _ in row.parts) for row in view.rows(width)]
        assert max(map(cells, texts)) <= width
        assert any("…" in text or "..." in text for text in texts) is (width < need)


@given(
    st.lists(st.lists(st.integers(1, 90), min_size=3, max_size=3).map(sorted), min_size=1),
    st.integers(0, 200),
)
def test_a_width_is_shared_out_in_full_and_all_have_what_there_is_room_for(
    three: list[list[int]], spare: int
) -> None:
    wishes = [Wishes(*each) for each in three]
    width = sum(each.need for each in wishes) + spare
    found = shares(width, wishes)
    assert sum(found) == width
    for wanted in zip(*wishes, strict=True):
        if sum(wanted) <= width:
            assert all(share >= least for share, least in zip(found, wanted, strict=True))


def test_columns_stand_under_their_headings_and_the_least_important_goes_first() -> None:
    shown = {
        width: [
            "".join(text for text, _ in row.parts)
            for row in racks.view(assess(preset("hall")), UNICODE).rows(width)
        ]
        for width in (40, 75)
    }
    for width, (heads, *rows) in shown.items():
        load = next(row for row in rows if "top-high" in row)
        for title, figure in (("Load", "16 Ω"), ("Headroom", "−0.4 dB")):
            assert heads.index(title) + len(title) == load.index(figure) + len(figure), (width, title)
    assert "Drives" in shown[75][0]
    assert "Drives" not in shown[40][0]


def test_a_pole_pair_has_its_channel_and_its_feed_under_their_headings_as_a_section_has() -> None:
    for width in (75, 110):
        heads, *rows = (
            "".join(text for text, _ in row.parts)
            for row in lines.view(assess(preset("faults")), UNICODE).rows(width)
        )
        pole, section = (next(row for row in rows if sign in row) for sign in ("├─ 1 ", "upper"))
        for title, told in (("Amp", "A1.1"), ("Feed", "sub")):
            assert heads.index(title) == pole.index(told) == section.index(told), (width, title)
        assert heads.index("Full") > heads.index("Feed")


def test_a_pole_pair_that_the_meter_found_wrong_has_a_row_that_says_so() -> None:
    rig = preset("hall")
    assert "C1/1" not in told(rig)
    wrong = told(replace(rig, readings=(Reading(line="C1", pair=1, ohms="99 ohm"),)))
    assert wrong["C1/1"].split()[1:] == ["pole", "pair", "1", "wrong", "by", "the", "meter", "check", "stop"]
    assert "C1/2" not in wrong


def test_the_channel_behind_a_pole_pair_that_the_meter_found_wrong_lists_that() -> None:
    rig = preset("hall")
    wrong = assess(replace(rig, readings=(Reading(line="C1", pair=1, ohms="99 ohm"),)))
    for channel, listed in (("A1.1", True), ("A1.2", False)):
        said = " ".join(text for row in results.rows(wrong, channel, 78, UNICODE) for text, _ in row.parts)
        assert ("C1/1 reads 99 Ω" in said) is listed
        view = racks.view(wrong, UNICODE)
        (row,) = [row for row in view.rows(140) if row.place == channel]
        assert ("stop" in " ".join(text for text, _ in row.parts).split()) is listed, (
            "the mark in Racks agrees"
        )


@given(st.floats(0.002, 0.03), st.sampled_from([1, -1]))
def test_a_figure_stands_on_the_side_of_its_limit_that_it_is_judged_to_be_on(off: float, side: int) -> None:
    rig = preset("small-room")
    exact = assess(rig).sections["SUB-L1.left"].damping_factor
    assert exact
    accepted = round(exact * (1 + side * off), 3)
    judged = replace(rig, targets=replace(rig.targets, damping_factor=accepted))
    shown = float(told(judged)["SUB-L1.left"].split(" dB")[1].split()[0])
    assert (shown < accepted) is (exact < accepted)
    assert any(f.code == "damping-low" for f in assess(judged).at("SUB-L1.left")) is (exact < accepted)
