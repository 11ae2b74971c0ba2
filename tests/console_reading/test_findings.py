"""The list of findings: what it shows, and where it leads."""

import pytest

from rackwright.console.screens.pages import FindingsList
from rackwright.console.terminal.glyphs import ASCII, UNICODE
from rackwright.engine.cautions import PLANNING
from rackwright.engine.finding import Finding

from .app import Alone

FINDINGS = (
    Finding("load", "stop", "A1.1", "Load 1.9 Ω is under the 2 Ω that A1 can drive.", "Move SUB-R2 to another channel."),
    Finding("loss", "warn", "SUB-L1.upper", "Cable loss is 1.03 dB, over the 0.5 dB accepted.", "Use a shorter line."),
    Finding("spare", "note", "A1.4", "A1.4 drives nothing: a spare.", "Nothing to do."),
)  # fmt: skip
MANY = tuple(
    Finding(
        "spare",
        "note",
        f"A{number}.1",
        f"It is number {number}. " + "It drives nothing. " * 12,
        "Nothing to do. " * 12,
    )
    for number in range(1, 61)
)
SIZES = [(80, 24), (140, 45)]


@pytest.mark.parametrize("size", SIZES)
async def test_lists_each_with_severity_and_place_and_tells_the_first_in_full(size):
    app = Alone(FindingsList(FINDINGS, UNICODE))
    async with app.run_test(size=size):
        lines = app.lines()
        for finding in FINDINGS:
            (row,) = [line for line in lines if f"{finding.severity} " in line and f"{finding.at}  " in line]
            said = finding.message.removeprefix(f"{finding.at} ")  # the row says the place once
            assert said[:1].upper() + said[1:20] in row
        assert "1 stop, 1 warning, 1 note" in app.text()
        assert "Move SUB-R2 to another channel." in app.text()
        assert PLANNING in app.text()


@pytest.mark.parametrize(
    ("keys", "place"),
    [
        (["enter"], "A1.1"),
        (["down", "enter"], "SUB-L1.upper"),
        (["end", "enter"], "A1.4"),
        (["end", "home", "enter"], "A1.1"),
        (["down", "escape"], None),
        (["q"], None),
    ],
)
async def test_gives_the_place_under_the_cursor(keys, place):
    app = Alone(FindingsList(FINDINGS, UNICODE))
    async with app.run_test(size=(80, 24)):
        await app.press(*keys)
        assert app.given == [place]


async def test_the_advice_follows_the_cursor():
    app = Alone(FindingsList(FINDINGS, UNICODE))
    async with app.run_test(size=(80, 24)):
        await app.press("down")
        assert "Use a shorter line." in app.text()
        assert "Move SUB-R2" not in app.text()


async def test_a_double_click_goes_there():
    app = Alone(FindingsList(FINDINGS, UNICODE))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.click("#findings", offset=(10, 2), times=2)
        assert app.given == ["A1.4"]


@pytest.mark.parametrize("size", SIZES)
async def test_many_scroll_and_the_longest_is_told_whole(size):
    app = Alone(FindingsList(MANY, UNICODE))
    async with app.run_test(size=size):
        assert " ".join(MANY[0].advice.split()) in " ".join(app.text().split())
        await app.press("end")
        text = " ".join(app.text().split())
        assert "A60.1" in text
        assert "enter go there" in text
        await app.press("enter")
        assert app.given == ["A60.1"]


async def test_nothing_found_is_said_and_leads_nowhere():
    app = Alone(FindingsList((), UNICODE))
    async with app.run_test(size=(80, 24)):
        assert "No problems found" in app.text()
        await app.press("down", "enter")
        assert app.given == [None]


async def test_follows_the_window_as_it_changes():
    app = Alone(FindingsList(FINDINGS, UNICODE))
    async with app.run_test(size=(140, 45)):
        await app.press("down")
        await app.resize(80, 24)
        assert "Use a shorter line." in app.text()
        await app.press("enter")
        assert app.given == ["SUB-L1.upper"]


async def test_plain_terminals_get_plain_characters():
    app = Alone(FindingsList(FINDINGS, ASCII))
    async with app.run_test(size=(80, 24)):
        assert "\n".join(app.lines()).isascii()
        assert "Load 1.9 ohm is under" in app.text()


@pytest.mark.parametrize(("glyphs", "sign"), [(UNICODE, "…"), (ASCII, "...")])
async def test_a_message_cut_short_says_so(glyphs, sign):
    app = Alone(FindingsList(MANY, glyphs))
    async with app.run_test(size=(80, 24)):
        rows = [line.rstrip(" ┃|▁▂▃▄▅▆▇█") for line in app.lines() if "note " in line and ".1" in line]
        assert rows
        assert all(row.endswith(sign) for row in rows)


async def test_a_window_too_small_to_work_in_does_no_harm():
    app = Alone(FindingsList(MANY, UNICODE))
    async with app.run_test(size=(140, 45)):
        await app.resize(12, 4)
        await app.press("down")
        await app.resize(80, 24)
        assert "A2.1" in app.text()
        await app.press("enter")
        assert app.given == ["A2.1"]
