"""Under the edit lock, and where another console has the rig, the foot offers on every screen what acts and nothing that is refused there."""

from collections.abc import Callable

import pytest

from rackwright.console.commands import COMMANDS
from rackwright.console.commands.tables import TABLES
from rackwright.console.session import EDIT_LOCK, Session, Unrecorded
from rackwright.console.widgets.status import Foot

from .hand import Hand, opened

OPENED = {
    "Workplace": ("SUB-L1", "d"),
    "Workplace on an amplifier": ("A1",),
    "Workplace with results in front": ("SUB-L1", "d", "3"),
    "MainsTree": ("SUB-L1", "d", "M"),
    "MainsTree with results in front": ("SUB-L1", "M", "down", "tab"),
    "MeterCheck": ("SUB-L1", "i", "5", "enter", "up"),
    "HistoryTable": ("SUB-L1", "d", "H"),
    "HistoryTable on another state": ("SUB-L1", "d", "d", "u", "H", "end"),
    "DiagnosisScreen": ("SUB-L1", "h"),
    "DiagnosisScreen on causes": ("SUB-L1", "h", "s", "tab"),
    "Plans": ("A1.1", "f", "f"),
    "ListTable": ("A1.1", "f", "f", "enter", "enter", "enter"),
    "RehearsalTable": ("A1", "F"),
    "Columns": ("SUB-L1", "E"),
    **{
        screen: ("A1", "t", *["down"] * [each.value for each in TABLES].index(table), "enter")
        for table, screen in (
            ("Feeds", "FeedTable"), ("Equipment of this rig", "RigEquipment"), ("My equipment library", "Library"),
            ("Spares", "Spares"), ("Stock", "OwnedStock"),
        )
    },
}  # fmt: skip
"""Screen → what is found and pressed for it, with an edit before where one can be undone."""


def offered(hand: Hand) -> list[str]:
    """The keys at the foot of the screen on top; of these L takes the lock off."""
    commands = {each.key_words: each.key for each in (*COMMANDS, *getattr(hand.screen, "KEYS", ()))}
    feet = [foot for foot in hand.screen.query(Foot) if foot.id in ("keys", "status")]
    words = [text for foot in feet for text, style in foot.parts if style == "head"]
    return [commands[text] for text in words if text in commands]


def lock(session: Session) -> None:
    """As it comes on for those who follow."""
    session.lock_edits(True)


def follow(session: Session) -> None:
    """As where control was given to another console."""
    session.held_by, session.recorder = "ann has it", Unrecorded()


async def on(hand: Hand, screen: str, then: Callable[[Session], None]) -> None:
    """On that screen, where then edits are refused."""
    place, *keys = OPENED[screen]
    await hand.find(place)
    await hand.press(*keys)
    assert type(hand.screen).__name__ == screen.split()[0]
    then(hand.session)
    hand.screen.redraw()
    await hand.settle()


@pytest.mark.parametrize("refuses", [lock, follow])
@pytest.mark.parametrize("screen", OPENED)
async def test_no_key_that_the_foot_offers_is_refused(
    screen: str, refuses: Callable[[Session], None]
) -> None:
    async with opened(preset="small-room", size=(140, 45)) as hand:
        await on(hand, screen, refuses)
        keys = [key for key in offered(hand) if key != "L" or refuses is follow]
    assert keys
    for key in keys:
        async with opened(preset="small-room", size=(140, 45)) as hand:
            await on(hand, screen, refuses)
            await hand.press(key)
            assert EDIT_LOCK not in hand.words, key
            assert "open read-only" not in hand.words, key
