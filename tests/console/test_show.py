"""During the show: what fails is marked, and the lock leaves nothing else to be changed."""

from rackwright.console.commands import COMMANDS
from rackwright.engine import recovery

from .hand import opened


async def test_a_failed_channel_is_marked_and_its_cabinets_fall_silent() -> None:
    async with opened(preset="small-room", size=(140, 45)) as hand:
        await hand.find("A1.1")
        await hand.press("f", "f")
        assert hand.rig.racks[0].amplifiers[0].channels[0].state == "failed"
        assert "failed" in hand.row("racks", "A1.1")
        assert "failed" in hand.row("lines", "SUB-L1.left")
        assert "A1.1 failed: SUB-L1.left" in hand.text
        await hand.press("escape")
        assert "A1.1 stays marked failed." in hand.text
        await hand.press("f")
        assert hand.rig.racks[0].amplifiers[0].channels[0].state == "ok"
        assert "A1.1 is marked working again." in hand.text


async def test_an_amplifier_fails_with_all_its_channels() -> None:
    async with opened(preset="small-room") as hand:
        await hand.find("A2")
        await hand.burst("f", "escape")
        assert hand.rig.racks[0].amplifiers[1].state == "failed"
        assert recovery.failed(hand.rig) == ("A2",)
        await hand.press("f")
        assert recovery.failed(hand.rig) == ()


async def test_the_edit_lock_leaves_failures_and_reading() -> None:
    async with opened(preset="small-room") as hand:
        await hand.press("L")
        assert "EDIT LOCK" in hand.foot
        before = hand.rig
        for place in ("A1", "R1-1/1", "SUB-L1"):
            hand.workplace.go_to(place)
            await hand.settle()
            for command in COMMANDS:
                if not command.in_show:
                    await hand.press(command.key)
                    assert hand.screen is hand.workplace, command
                    assert "edit lock is on" in hand.text, command
            await hand.paste("3 m")
        assert hand.rig is before
        for key, shown in (
            ("v", "Findings:"),
            ("g", "Impedance at the terminals"),
            ("?", "Keys"),
            ("/", "Find"),
        ):
            await hand.press(key)
            assert shown in hand.words
            await hand.press("escape")
        await hand.find("A1.1")
        await hand.press("f", "f")
        assert hand.rig.racks[0].amplifiers[0].channels[0].state == "failed"


async def test_the_foot_and_the_palette_offer_only_what_the_lock_leaves() -> None:
    async with opened(preset="small-room") as hand:
        await hand.find("A1.1")
        await hand.press("L")
        assert "edit" not in hand.foot
        assert "f fail" in hand.foot
        await hand.press("ctrl+p")
        offered = {option.value for option in hand.screen.options}
        assert offered <= {command.help for command in COMMANDS if command.in_show}


async def test_the_lock_is_taken_off_again() -> None:
    async with opened(preset="small-room") as hand:
        await hand.press("L", "L")
        assert "EDIT LOCK" not in hand.foot
        await hand.find("SUB-L1")
        await hand.press("d")
        assert hand.session.place == "SUB-L2"


async def test_what_was_selected_before_going_to_a_thing_is_not_what_fails() -> None:
    """A dialog that closes gives its pane the focus back, which still tells of the old place when the new one is gone to."""
    async with opened(preset="small-room") as hand:
        await hand.find("A2")
        hand.pane("racks").on_focus()
        hand.workplace.go_to("A1.1")
        await hand.press("f", "f")
        assert hand.rig.racks[0].amplifiers[0].channels[0].state == "failed"
        assert {c.state for c in hand.rig.racks[0].amplifiers[1].channels} == {"ok"}


async def test_f_asks_shortly_how_a_thing_has_failed_and_pressed_again_says_working() -> None:
    """Under the edit lock, for each kind of thing, by one key more at most."""
    async with opened(preset="small-room") as hand:
        before = hand.rig
        await hand.press("L")
        cases = {
            "A1.1": ({"f": "A1.1", "i": "A1.1=input"}),
            "TOP-L1.high": {"f": "TOP-L1.high", "s": "TOP-L1.high=shorted", "d": "TOP-L1.high=distorted"},
            "C1": {"f": "C1", "1": "C1/1", "2": "C1/2"},
            **{name: {"": name} for name in ("A1", "R1", "R1-1", "R1-1/2", "TOP-L1", "sub", "P1", "L1")},
        }
        for place, answers in cases.items():
            for key, name in answers.items():
                hand.workplace.go_to(place)
                await hand.settle()
                await hand.burst("f", *key, "escape")
                assert recovery.failed(hand.rig) == (name,)
                assert hand.screen is hand.workplace
                hand.workplace.go_to(place)  # where no plan was looked for, escape went up from it
                await hand.settle()
                assert "f working" in hand.foot
                await hand.press("f")
                assert hand.rig == before, name


async def test_all_that_is_chosen_fails_at_once_and_works_again_at_once() -> None:
    async with opened(preset="small-room") as hand:
        before = hand.rig
        await hand.press("L")
        for name in ("C1", "C2"):
            hand.workplace.go_to(name)
            await hand.settle()
            await hand.press("space")
        assert "f fail 2" in hand.foot
        await hand.press("f", "2", "escape")
        assert recovery.failed(hand.rig) == ("C1/2", "C2/2")
        assert hand.session.chosen == ()
        for name in ("C1/2", "C2/2"):
            hand.workplace.go_to(name)
            await hand.settle()
            assert f"Pole pair 2 of {name[:2]}" in hand.title
            await hand.press("space")
        await hand.press("f")
        assert hand.rig == before
