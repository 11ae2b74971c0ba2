"""From what is heard to what has failed, by keys: answers, causes that follow them, the next test, the plans they lead to."""

from rackwright.console.widgets.pane import Pane
from rackwright.engine import cautions, recovery
from rackwright.engine.recovery import failed

from .hand import Hand, opened


async def listening(hand: Hand, place: str, *answers: str) -> None:
    """Open the screen with the cursor on a place, and answer for it."""
    hand.workplace.go_to(place)
    await hand.press("h", *answers)


async def test_what_is_heard_leads_to_a_cause_and_its_plans_under_the_edit_lock() -> None:
    async with opened(preset="hall", size=(80, 24)) as hand:
        before = hand.rig
        await hand.press("L")
        await listening(hand, "TOP-R1.high", "s")
        assert hand.text.startswith(cautions.SMOKE)
        assert "14 causes agree" in hand.words
        assert "In a song gap mute all but top-mid." in hand.words
        await hand.press("n", "p")
        assert "8 causes agree" in hand.words
        assert "Go to R2, look at the lights of A8.1." in hand.words
        await hand.press("n", "4")
        await hand.press("tab", "enter")
        assert failed(hand.rig) == ("C13/2",)
        assert "TOP-R1.high" in hand.words
        await hand.press("escape", "u")
        assert hand.rig.heard == {"TOP-R1.high": "silent", "top-mid": "plays", "lights A8.1": "signal"}
        await hand.press("h", "c")
        assert hand.rig == before
        assert "answered" not in hand.words


async def test_the_next_test_asks_what_it_showed_and_the_causes_follow() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await listening(hand, "TOP-R1.high", "s", "n", "p", "n", "q", "n")
        assert "look at the lights of A2.4" in hand.words
        assert cautions.POWER_DOWN in hand.words
        await hand.press("2")
        assert "2 causes agree" in hand.words
        assert "unplug C4 at R1-4" in hand.words
        await hand.press("n", "2", "tab")
        assert "1 cause agrees" in hand.words
        await hand.press("enter")
        assert failed(hand.rig) == ("TOP-R1.high=shorted",)


async def test_every_answer_of_a_long_question_is_seen_in_a_low_window() -> None:
    async with opened(preset="hall", size=(60, 16)) as hand:
        await listening(hand, "TOP-R1", "s", "n", "p", "n")
        assert "swap the plugs" in hand.words
        assert "4 both play esc back" in hand.words


async def test_plans_hold_whichever_it_is_once_few_are_left() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await listening(hand, "TOP-R1.high", "s", "n", "p", "n", "q", "n", "4")
        assert "4 causes agree" in hand.words
        await hand.press("w")
        assert {*failed(hand.rig)} == {"A2.4", "R1-4/2", "C4/2", "TOP-R1.high"}


async def test_too_many_causes_are_not_planned_for_at_once() -> None:
    async with opened(preset="hall", size=(80, 24)) as hand:
        await listening(hand, "top-high", "d", "w")
        assert "causes agree: answer more" in hand.words
        assert failed(hand.rig) == ()


async def test_an_answer_is_taken_back_and_all_of_them() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await listening(hand, "TOP-R1.high", "s")
        assert "1 answered" in hand.words
        await hand.press("delete")
        assert "answered" not in hand.words
        await hand.press("s", "down", "c")
        assert "answered" not in hand.words
        assert "Answer what you hear" in hand.words


async def test_answers_stay_while_the_screen_is_left_and_a_word_that_is_not_said_of_a_place_is_refused() -> (
    None
):
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await listening(hand, "TOP-R1.high", "d")
        assert '"dull" is not said of TOP-R1.high' in hand.words
        await hand.press("q", "escape", "u", "h")
        assert "1 answered" in hand.words
        assert hand.rig.heard == {"TOP-R1.high": "quiet"}
        await hand.press("slash")
        await hand.pick("right")
        await hand.press("d")
        assert "2 answered" in hand.words


async def test_enter_picks_an_answer_from_a_list() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await listening(hand, "SUB-L1", "enter")
        await hand.pick("silent")
        assert "1 answered" in hand.words
        assert "C1" in hand.words


async def test_an_answer_that_stands_alone_against_a_single_cause_is_named() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await listening(hand, "TOP-R1.high", "s", "slash")
        await hand.pick("top-high")
        await hand.press("p")
        assert "No cause and no pair agrees" in hand.words
        assert "A single cause agrees without top-high: look again." in hand.words


async def test_a_rig_that_changes_meanwhile_has_its_faults_tried_again() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await listening(hand, "TOP-R1.high", "s")
        screen, session = hand.screen, hand.workplace.session
        session.follow(recovery.mark(session.rig, ["C4"]), None, False)
        screen.redraw()
        await hand.settle()
        assert "Nothing more than is marked" in hand.words


async def test_causes_that_are_alike_stand_in_one_row_and_which_of_them_is_asked() -> None:
    async with opened(preset="hall", size=(80, 24)) as hand:
        await listening(hand, "", "slash")
        await hand.pick("right")
        await hand.press("d")
        shown = ["".join(text for text, _ in row.parts) for row in hand.screen.causes.rows]
        assert "C13 and 3 like it" in shown[1]
        assert not any("C14" in row for row in shown)
        await hand.press("tab", "enter")
        await hand.pick("C14")
        assert failed(hand.rig) == ("C14",)


async def test_it_begins_at_the_cabinet_of_a_section_that_has_no_row_of_its_own() -> None:
    async with opened(preset="outdoor-stage", size=(80, 24)) as hand:
        await listening(hand, "SIDE-SUB-L1.woofer", "s")
        assert hand.rig.heard == {"SIDE-SUB-L1": "silent"}


async def test_positions_are_whole_beside_the_causes() -> None:
    async with opened(preset="small-room", size=(110, 30)) as hand:
        hand.workplace.go_to("TOP-R1.high")
        await hand.press("h")
        for answer in ("", "s"):
            await hand.press(*answer)
            assert "stage right, on a pole" in hand.text


async def test_the_scroll_bar_of_a_list_that_opens_at_its_end_stands_at_its_end() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        hand.workplace.go_to("TOP-R1.high")
        await hand.press("h")
        heard = hand.screen.query_one("#heard", Pane)
        assert heard.show_vertical_scrollbar
        assert heard.vertical_scrollbar.position == heard.scroll_y == heard.max_scroll_y
