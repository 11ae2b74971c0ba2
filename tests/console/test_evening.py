"""An evening at 80x24 under the edit lock: what fails, what is heard, the link lost, repairs in another order, and the first rig again."""

import itertools
import random
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any
from unittest.mock import patch

from engine_diagnosis.asking import Crew
from rackwright.console import leftovers
from rackwright.console.screens.diagnosis import KEYS_OF, DiagnosisScreen
from rackwright.console.screens.night_list import ListTable
from rackwright.engine import recovery
from rackwright.engine.diagnosis import OUTCOMES
from rackwright.engine.recovery import Recovery, failed, in_turn
from rackwright.store import rig_file
from shipped import preset

from .hand import Hand, opened


@asynccontextmanager
async def at_the_desk(path: Path) -> AsyncIterator[Hand]:
    """The console at the desk; of plans those that are found at once."""

    def at_once(*of: Any, **more: Any) -> Iterator[Recovery]:
        told = [*itertools.islice(in_turn(*of, **more), 2)]
        yield from [*told, *told[-1:]]

    with patch.object(recovery, "in_turn", at_once):
        async with opened(path, size=(80, 24)) as hand:
            yield hand


async def fails(hand: Hand, name: str, *how: str) -> None:
    """Something fails; its best plan is taken and ticked off."""
    await hand.find(name)
    await hand.press("f", *how)
    await take(hand)


async def take(hand: Hand, ticks: int | None = None) -> None:
    """Take the first plan and tick it off, or so many steps of it."""
    await hand.press("enter")
    if "Your initials" in hand.words:
        await hand.press("a", "b", "enter")
    if not isinstance(hand.screen, ListTable):
        assert "left as it is" in hand.words
        return
    await tick(hand, ticks)
    if ticks is None:
        await hand.press("escape")


async def tick(hand: Hand, ticks: int | None = None) -> None:
    """Tick off a list, or so many steps of it: the next step is seen before, that all is done after."""
    screen = hand.screen
    assert isinstance(screen, ListTable)
    shown = screen.shown
    assert shown
    assert f"[ ] {shown.following + 1:>{len(str(len(shown.steps)))}}. " in hand.text
    await hand.press(*["enter"] * (ticks or len(shown.steps) - shown.ticked))
    assert ticks or "All done" in hand.words


async def repaired(hand: Hand, name: str) -> None:
    """Something is repaired; its return is taken and ticked off."""
    await hand.find(name)
    await hand.press("f")
    if "return now" in hand.words:
        await hand.press("b")
    if isinstance(hand.screen, ListTable):
        await tick(hand)
        await hand.press("escape")


async def find_out(hand: Hand, truth: str) -> None:
    """The right is heard to be dull; every next test is answered as it is, until one cause is left, which is marked."""
    crew = Crew(hand.session.assessment, [truth], random.Random(3))
    await hand.press("h", "/")
    await hand.pick("right")
    await hand.press("d")
    screen = hand.screen
    assert isinstance(screen, DiagnosisScreen)
    while screen.told and screen.told.next_test:
        check = screen.told.next_test.check
        shown = crew.shows(check)
        key = KEYS_OF[shown] if check.kind == "listen" else str([*OUTCOMES[check.kind]].index(shown) + 1)
        await hand.press("n", key)
    assert screen.told
    assert [suspect.name for suspect in screen.told.suspects] == [truth]
    await hand.press("tab", "enter")


async def test_an_evening_ends_with_the_rig_that_it_began_with(tmp_path: Path) -> None:
    """A sub channel and its neighbour, a high channel that is only heard, an amplifier that takes its breaker along, a cable, a
    driver, the link lost while ticking."""
    path = tmp_path / "hall.toml"
    rig_file.save(preset("hall"), path)
    async with at_the_desk(path) as hand:
        first = hand.rig
        await hand.press("L")
        await fails(hand, "A1.1", "f")
        await fails(hand, "A1.2", "f")
        truth = hand.session.assessment.sections["TOP-R1.high"].channel
        assert truth
        await find_out(hand, truth)
        await take(hand)
        for name in ("A3", "P2"):
            await hand.find(name)
            await hand.press("space")
        await hand.press("f")
        await take(hand, ticks=3)
        hand.workplace.document.close()
    assert leftovers.leftover_of(path)
    async with at_the_desk(path) as hand:
        await hand.press("r", "R")
        assert ", 3 of " in hand.words
        await tick(hand)
        await hand.press("escape")
        assert "EDIT LOCK" in hand.foot
        await fails(hand, "C13", "f")
        await fails(hand, "TOP-L3.mid", "f")
        for name in (truth, "TOP-L3.mid", "A1.1", "P2", "C13-SPARE", "A1.2", "A3"):
            await repaired(hand, name)
        assert failed(hand.rig) == ()
        assert hand.rig == first
        await hand.press("L", "s")
    assert rig_file.load(path) == first
