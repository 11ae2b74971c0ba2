"""Walks through the console that pass every screen, taking snapshots on the way."""

from collections.abc import Awaitable, Callable
from datetime import datetime
from pathlib import Path
from types import SimpleNamespace
from typing import NamedTuple

from console.hand import Hand
from rackwright.console.commands.tables import TABLES
from rackwright.store.recent import Recent

Take = Callable[[str], None]
FEEDS, CIRCUITS, SETTINGS, IN_RIG, LIBRARY, *_ = range(len(TABLES))

RECENT = (
    Recent(Path("/rigs/friday.toml"), "Friday, small room", False),
    Recent(Path("/stick/tour/open-air.toml"), "Open air", True),
)
LEFT = (
    SimpleNamespace(name="Friday, small room", path=Path("/rigs/friday.toml"), when=datetime(2020, 2, 29, 23, 55), damage=""),
    SimpleNamespace(name="New rig", path=None, when=datetime(2020, 2, 28, 19, 5), damage=""),
)  # fmt: skip


SMALL, MIDDLE, LARGE = SIZES = (80, 24), (110, 30), (140, 45)


class Walk(NamedTuple):
    """Where it begins, what is pressed, and in windows of which sizes that shows anything new."""

    preset: str | None
    steps: Callable[[Hand, Take], Awaitable[None]]
    sizes: tuple[tuple[int, int], ...] = SIZES
    mono: bool = False
    """Whether it is walked without colour too; what goes then is for all screens the same."""


async def start(hand: Hand, take: Take) -> None:
    """The start with things to recover and recent rigs."""
    take("start")
    await hand.press("down", "down", "down")
    take("start-further-down")


async def workplace(hand: Hand, take: Take) -> None:
    """The workplace with each kind of thing selected, and each pane in front."""
    take("whole-rig")
    for place in ("A1.1", "A2", "R1-3/2", "C2", "SUB-L1.upper", "TOP-R1", "P1"):
        hand.workplace.go_to(place)
        await hand.settle()
        take(f"at-{place.replace('/', '-pair-')}")
    hand.workplace.go_to("A1.1")
    for pane in ("1", "2", "3"):
        await hand.press(pane)
        if hand.app.size.width < 110 or pane == "3":
            take(f"pane-{pane}")


async def edits(hand: Hand, take: Take) -> None:
    """What edits look like: chosen, failed, compared, locked, said, and the foot with something to undo."""
    await hand.find("C1")
    await hand.press("k", "space", "space")
    await hand.paste("60 m")
    take("chosen-and-compared")
    await hand.find("A2.1")
    await hand.press("f", "escape")
    take("failed")
    await hand.press("k", "u")
    take("undone")
    await hand.press("L", "d")
    take("edit-lock")


async def dialogs(hand: Hand, take: Take) -> None:
    """Pickers, forms, questions, pages."""
    await hand.press("a")
    take("add")
    await hand.press("escape", "/")
    await hand.type("sub")
    take("find")
    await hand.type("zzz")
    take("find-nothing")
    await hand.press("escape", "ctrl+p")
    take("palette")
    await hand.press("escape", "t")
    take("tables")
    await hand.press("escape")
    await hand.find("C2")
    await hand.press("enter", *["down"] * 4)
    await hand.write("300 ft")
    take("form-consequence")
    await hand.write("25 kg")
    take("form-refused")
    await hand.press("escape")
    await hand.find("A1")
    await hand.press("enter")
    take("form-amplifier")
    await hand.press("down", "q")
    take("form-choice")
    await hand.press("escape", "escape", "m", "up")
    take("moving")
    await hand.press("escape", "delete")
    take("question")
    await hand.press("escape", "S")
    take("save-as")
    await hand.press("escape", "P", "down", "down")
    take("save-preset")
    await hand.press("escape", "=")
    take("compare-with")
    await hand.press("escape", "v")
    take("no-findings")
    await hand.press("escape", "?")
    take("help")
    await hand.press("escape", "q")
    take("whole-rig-again")


async def pages(hand: Hand, take: Take) -> None:
    """Findings, workings, graphs, differences of a rig with faults."""
    take("faults")
    await hand.press("v")
    take("findings")
    await hand.press("down", "down", "down")
    take("findings-further-down")
    await hand.press("enter")
    take("at-a-finding")
    await hand.find("A3.1")
    await hand.press("3", "down", "w")
    take("why")
    await hand.press("escape", "g")
    take("graph")
    await hand.press("l")
    take("graph-level")
    await hand.press("escape")
    await hand.find("C1")
    await hand.paste("60 m")
    await hand.press("=")
    await hand.pick("faults")
    take("differences")


async def tables(hand: Hand, take: Take) -> None:
    """The tables on the whole screen and their forms."""
    for number, name in (
        (FEEDS, "feeds"),
        (CIRCUITS, "circuits"),
        (IN_RIG, "equipment"),
        (LIBRARY, "library"),
    ):
        await hand.press("t", *["down"] * number, "enter")
        take(name)
        if number in (IN_RIG, LIBRARY):
            await hand.press("enter")
            take(f"{name}-entry")
            await hand.press("escape")
        await hand.press("escape")
    await hand.press("t", *["down"] * SETTINGS, "enter")
    take("settings")


async def failures(hand: Hand, take: Take) -> None:
    """Plans for a channel and a circuit, a checklist and its way back."""
    await hand.press("L")
    await hand.find("A9.1")
    await hand.press("f")
    take("plans")
    await hand.press("down")
    take("plans-second")
    await hand.press("enter", "enter")
    take("list")
    await hand.press("b")
    take("repaired")
    await hand.press("b")
    take("return")
    await hand.press("escape")
    await hand.find("P2")
    await hand.press("f")
    take("plans-circuit")


async def meter(hand: Hand, take: Take) -> None:
    """The meter check: nothing measured, something typed, a fault."""
    await hand.press("i")
    take("meter-check")
    await hand.type("6.1")
    take("meter-check-typed")
    await hand.press("enter")
    await hand.type("o")
    await hand.press("enter", "up")
    take("meter-check-fault")


async def away(hand: Hand, take: Take) -> None:
    """Papers, a venue, what stands by."""
    await hand.press("x")
    take("papers")
    await hand.press("escape", "V")
    take("venue")
    await hand.press("enter")
    await hand.pick("tannery")
    take("venue-foreseen")
    await hand.press("escape")
    for name in ("Spares", "Stock"):
        await hand.press("t")
        await hand.pick(name)
        take(name.lower())
        await hand.press("escape")


async def small(hand: Hand, take: Take) -> None:
    """Windows too small for anything."""
    for size in ((79, 23), (40, 12)):
        await hand.resize(*size)
        take(f"too-small-{size[0]}")


WALKS = {
    "start": Walk(None, start),
    "workplace": Walk("hall", workplace),
    "edits": Walk("small-room", edits),
    "dialogs": Walk("small-room", dialogs, (SMALL, LARGE), mono=True),
    "pages": Walk("faults", pages, mono=True),
    "tables": Walk("small-room", tables),
    "failures": Walk("hall", failures),
    "meter": Walk("small-room", meter),
    "away": Walk("hall", away),
    "small": Walk("small-room", small, (SMALL,)),
}
