"""The table of keys against the screen: each key acts, each is told of, in help, in the palette, at the foot."""

from itertools import islice

import pytest

from rackwright.console.app import Console
from rackwright.console.commands import COMMANDS
from rackwright.console.keymap import MOVES, acting
from rackwright.console.rows.advice import by_keys
from rackwright.console.screens.mains import MainsTree
from rackwright.console.widgets.pane import Pane
from rackwright.engine import recovery
from rackwright.engine.finding import WHERE
from rackwright.engine.findings.meanings import MEANINGS

from .hand import Hand, opened


def test_no_key_and_no_function_stands_twice() -> None:
    for name in ("key", "action", "help", "does"):
        assert len({getattr(command, name) for command in COMMANDS}) == len(COMMANDS)


def test_keys_outside_the_table_are_told_too() -> None:
    told = " ".join(key for key, _ in MOVES).replace("page ", "page").replace(",", "").split()
    outside = [
        *Pane.BINDINGS,
        *(each for each in Console.BINDINGS if each.action not in ("leave", "control")),
    ]
    assert {binding.key for binding in outside} == set(told)


def test_what_is_advised_names_keys_in_place_of_commands() -> None:
    """Each key that is named does what it is named for."""
    advised = [meaning.do for meaning in MEANINGS.values()]
    told = [by_keys(text) for text in (*advised, f"{WHERE}.")]
    assert sum("rackwright " in text for text in advised) >= 3
    assert not [text for text in told if "rackwright " in text]
    named = {
        "M, then m, moves one",
        "the plans (R) show where",
        "the list that M, then o, opens",
        "Press R for plans",
    }
    assert all(any(words in text for text in told) for words in named)
    workplace, mains = ({each.key: each.action for each in keys} for keys in (COMMANDS, MainsTree.KEYS))
    assert (workplace["M"], workplace["R"]) == ("mains", "recover")
    assert (mains["m"], mains["o"]) == ("move", "order")


async def pages(hand: Hand) -> str:
    """All of a page, scrolled through."""
    seen = [hand.words]
    for _ in range(20):
        await hand.press("pagedown")
        if hand.words == seen[-1]:
            break
        seen.append(hand.words)
    return " ".join(seen)


async def test_help_tells_every_key() -> None:
    async with opened(preset="small-room", size=(100, 60)) as hand:
        await hand.press("?")
        shown = await pages(hand)
        for command in COMMANDS:
            first = " ".join(command.help.split()[:3])
            assert f"{command.key_words} {first}" in shown


async def test_help_can_be_read_through_in_the_smallest_window() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.press("?")
        shown = await pages(hand)
        for command in COMMANDS:
            assert " ".join(command.help.split()[:3]) in shown


async def test_the_palette_offers_what_acts_on_the_selection() -> None:
    kinds = {
        "": "rig",
        "A1": "amplifier",
        "A1.1": "channel",
        "R1-1": "socket",
        "R1-1/1": "pole",
        "C1": "line",
        "SUB-L1": "cabinet",
        "SUB-L1.left": "section",
    }
    async with opened(preset="small-room") as hand:
        for place, kind in kinds.items():
            hand.workplace.go_to(place)
            await hand.press("ctrl+p")
            offered = [option.value for option in hand.screen.options]
            assert offered == [command.help for command in acting(hand.session)], place
            assert hand.session.kind == kind
            await hand.press("escape")


async def test_the_palette_runs_a_command_by_its_words() -> None:
    async with opened(preset="small-room") as hand:
        await hand.find("SUB-R1")
        await hand.press("ctrl+p")
        await hand.pick("duplicate")
        assert hand.session.place == "SUB-R2"
        await hand.press("ctrl+p")
        await hand.pick("every finding")
        assert "Findings:" in hand.text


async def test_the_foot_shows_keys_that_act_here_and_help_always() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.find("A1")
        keys = hand.foot.splitlines()[-1]
        assert "m move" in keys
        assert "? help" in keys
        await hand.find("R1-1")
        await hand.press("down")
        keys = hand.foot.splitlines()[-1]
        assert "m move" not in keys
        assert "r reverse" in keys
        assert "? help" in keys


async def test_the_foot_says_what_enter_does_in_the_pane_in_front() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.find("A1")
        for key, told in (("3", "why"), ("1", "edit"), ("M", "edit"), ("tab", "why"), ("tab", "edit")):
            await hand.press(key)
            assert hand.foot.splitlines()[-1].startswith(f"enter {told}  "), key


PLACES = {"fail": "A1.1", "move": "A1", "reverse": "R1-1/1", "patch": "A1.1", "connect": "C1"}
"""Where a command acts that does not act on a cabinet."""
BEFORE = {
    "undo": ("d",), "redo": ("d", "u"), "history": ("d",), "lines": ("3",), "edit_chosen": ("space",),
          "choose_range": ("escape", "space", "end")}  # fmt: skip
"""What is pressed before, so that there is something for it to do."""


async def test_each_key_does_something_that_can_be_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    stages = recovery.stages
    monkeypatch.setattr(
        recovery, "stages", lambda *given: islice(stages(*given), 1)
    )  # not all of a rehearsal
    async with opened(preset="small-room", size=(80, 24)) as hand:
        for command in COMMANDS:
            if command.action == "leave":
                continue
            hand.workplace.go_to(PLACES.get(command.action, "SUB-L1"))
            await hand.burst(*BEFORE.get(command.action, ()))
            before = (hand.text, hand.screen)
            await hand.press(command.key)
            assert (hand.text, hand.screen) != before, command
            if command.action == "edit_lock":
                await hand.press(command.key)
            while hand.screen is not hand.workplace:
                await hand.press("escape")


async def test_a_command_is_found_by_what_people_call_it_and_stands_first_the_next_time() -> None:
    async with opened(preset="small-room") as hand:
        await hand.find("SUB-R1")
        await hand.press("ctrl+p")
        await hand.pick("copy clone")
        assert hand.session.place == "SUB-R2"
        await hand.press("ctrl+p")
        assert hand.screen.options[0].value.startswith("Duplicate it")


async def test_help_is_searched_by_typing() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.press("?")
        await hand.type("quit")
        assert "Keys: quit" in hand.text
        assert "asks first if something is unsaved" in hand.words
        assert "Undo the last edit" not in hand.words
        await hand.press(*["backspace"] * 4)
        assert "Undo the last edit" in hand.words
        await hand.type("/quit")
        assert "Keys: quit" in hand.text
        await hand.press(*["backspace"] * 4)
        await hand.press("/")
        assert "Find an id" in hand.words
        assert "asks first" not in hand.words
        await hand.press("escape")
        assert hand.screen is hand.workplace


@pytest.mark.parametrize(
    ("keys", "told"),
    [
        (("Z",), "Z does nothing here. Press ? for the keys."),
        (("t", *"spares", "enter", "d"), "d (duplicate) has nothing to act on here."),
        (("t", *"spares", "enter", "delete"), "del (remove) has nothing to act on here."),
        (("t", *"spares", "enter", "I"), "I does nothing here. Press ? for the keys."),
        (("M", "home", "delete"), "The intake can't be duplicated or removed."),
        (("t", "enter", "A", "A"), "is as advised already."),
    ],
)
async def test_a_key_that_does_nothing_says_so(keys: tuple[str, ...], told: str) -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        rig = hand.rig
        for key in keys:
            await hand.press(key)
        assert told in hand.words
        assert hand.rig == rig or "A" in keys
        await hand.press("down")
        assert told not in hand.words


async def test_reversing_what_nothing_drives_says_so() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        pair = next(name for name in hand.session.assessment.index.pole_pairs)
        hand.workplace.go_to(pair)
        await hand.press("p", "up", "enter")
        rig = hand.rig
        await hand.press("r")
        assert f"No channel drives {pair}: there is no polarity to reverse." in hand.words
        assert hand.rig == rig


async def test_the_plans_tell_their_own_keys() -> None:
    async with opened(preset="hall", size=(80, 24)) as hand:
        await hand.find("A9.1")
        await hand.press("f", "f", "?")
        assert "Take this plan" in hand.words
        assert "Edit what is selected" not in hand.words


async def test_a_key_typed_ahead_of_the_plans_that_they_do_not_know_is_told_there() -> None:
    async with opened(preset="hall", size=(80, 24)) as hand:
        await hand.find("A9.1")
        await hand.burst("f", "f", "L")
        assert "L does nothing here: esc closes the plans." in hand.words
        assert not hand.session.edit_locked
        await hand.press("down")
        assert "does nothing" not in hand.words
