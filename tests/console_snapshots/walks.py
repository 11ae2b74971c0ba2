"""Walks through the console that pass every screen, taking snapshots on the way."""

from collections.abc import Awaitable, Callable
from datetime import datetime
from pathlib import Path
from types import SimpleNamespace
from typing import NamedTuple, Protocol

from console.hand import Hand
from rackwright.console.commands.tables import TABLES
from rackwright.console.widgets.pane import Pane
from rackwright.store.recent import Recent


class Take(Protocol):
    """Take a snapshot under that name, and of it in larger windows, where those show anything else."""

    async def __call__(self, name: str, *larger: tuple[int, int]) -> None: ...


FEEDS, MAINS, SETTINGS, IN_RIG, LIBRARY, *_ = range(len(TABLES))

RECENT = (
    Recent(Path("/rigs/friday.toml"), "Friday, small room", False),
    Recent(Path("/stick/tour/open-air.toml"), "Open air", True),
)
LEFT = (
    SimpleNamespace(name="Friday, small room", path=Path("/rigs/friday.toml"), when=datetime(2020, 2, 29, 23, 55), damage=""),
    SimpleNamespace(name="New rig", path=None, when=datetime(2020, 2, 28, 19, 5), damage=""),
)  # fmt: skip


SMALL, MIDDLE, LARGE = (80, 24), (110, 30), (140, 45)
"""All is walked through in the smallest; two panes fit in the middle one, three in the largest."""


class Walk(NamedTuple):
    """Where it begins, and what is pressed."""

    preset: str | None
    steps: Callable[[Hand, Take], Awaitable[None]]


async def start(hand: Hand, take: Take) -> None:
    """The start with things to recover and recent rigs."""
    await take("start", LARGE)
    await hand.press("down", "down", "down")
    await take("start-further-down")


async def workplace(hand: Hand, take: Take) -> None:
    """The workplace with each kind of thing selected, and each pane in front."""
    await take("whole-rig", MIDDLE, LARGE)
    for place in ("A1.1", "A2", "R1-3/2", "C2", "SUB-L1.upper", "TOP-R1", "P1"):
        hand.workplace.go_to(place)
        await hand.settle()
        await take(f"at-{place.replace('/', '-pair-')}", *((MIDDLE, LARGE) if place in ("A2", "C2") else ()))
    hand.workplace.go_to("A1.1")
    for pane in ("1", "2", "3"):
        await hand.press(pane)
        await take(f"pane-{pane}", *((MIDDLE, LARGE) if pane == "3" else ()))


async def edits(hand: Hand, take: Take) -> None:
    """What edits look like: chosen, failed, compared, locked, said, and the foot with something to undo."""
    await hand.find("C1")
    await hand.press("k", "space", "space")
    await hand.paste("60 m")
    await take("chosen-and-compared", MIDDLE, LARGE)
    await hand.press("escape")
    await hand.find("A2.1")
    await hand.press("f", "f", "escape")
    await take("failed")
    await hand.press("k", "u")
    await take("undone")
    await hand.press("L", "d")
    await take("edit-lock", LARGE)


async def dialogs(hand: Hand, take: Take) -> None:
    """Pickers, forms, questions, pages."""
    await hand.press("a")
    await take("add")
    await hand.press("escape", "/")
    await hand.type("sub")
    await take("find", LARGE)
    await hand.type("zzz")
    await take("find-nothing")
    await hand.press("escape", "ctrl+p")
    await take("palette")
    await hand.press("escape", "t")
    await take("tables")
    await hand.press("escape")
    await hand.find("C2")
    await hand.press("E")
    await hand.type("300 ft")
    await take("columns", LARGE)
    await hand.press("escape", "escape")
    await hand.press("enter")
    await hand.write("300 ft")
    await take("form-consequence", LARGE)
    await hand.write("25 kg")
    await take("form-refused")
    await hand.press("escape")
    await hand.find("A1")
    await hand.press("enter")
    await take("form-amplifier")
    await hand.press("down", "q")
    await take("form-choice-amiss")
    await hand.press("space", "q")
    await take("form-choice")
    await hand.press("escape", "escape", "m", "up")
    await take("moving")
    await hand.press("escape", "delete")
    await take("question")
    await hand.press("escape", "S")
    await take("save-as")
    await hand.press("escape", "P")
    await take("save-preset")
    await hand.press("escape", "=")
    await take("compare-with")
    await hand.press("escape", "v")
    await take("no-findings")
    await hand.press("escape", "?")
    await take("help", LARGE)
    await hand.press("escape", "escape")
    await take("whole-rig-again", LARGE)


async def pages(hand: Hand, take: Take) -> None:
    """Findings, workings, graphs, differences of a rig with faults."""
    await take("faults", MIDDLE, LARGE)
    await hand.press("v")
    await take("findings", LARGE)
    await hand.press("down", "down", "down")
    await take("findings-further-down")
    await hand.press("enter")
    await take("at-a-finding")
    await hand.find("A3.1")
    await hand.press("3", "down", "w")
    await take("why", LARGE)
    await hand.press("escape", "g")
    await take("graph", LARGE)
    await hand.press("l")
    await take("graph-level")
    await hand.press("escape")
    await hand.find("C1")
    await hand.paste("60 m")
    await hand.press("=")
    await hand.pick("faults")
    await take("differences", LARGE)
    await hand.press("escape", "H")
    await take("history", LARGE)


async def tables(hand: Hand, take: Take) -> None:
    """The tables on the whole screen and their forms."""
    for number, name in (
        (FEEDS, "feeds"),
        (MAINS, "mains"),
        (IN_RIG, "equipment"),
        (LIBRARY, "library"),
    ):
        await hand.press("t", *["down"] * number, "enter")
        await take(name, LARGE)
        if number in (IN_RIG, LIBRARY):
            await hand.press("enter")
            await take(f"{name}-entry")
            await hand.press("escape")
        await hand.press("escape")
    await hand.press("t", *["down"] * SETTINGS, "enter")
    await take("settings", LARGE)


async def failures(hand: Hand, take: Take) -> None:
    """Plans for a channel and a circuit, a list and its return."""
    await hand.press("L")
    await hand.find("A9.1")
    await hand.press("f")
    await take("what-failed")
    await hand.press("f")
    await take("plans", LARGE)
    await hand.press("down")
    await take("plans-second")
    await hand.press("enter", "enter")
    await take("list", LARGE)
    await hand.press("b")
    await take("repaired")
    await hand.press("b")
    await take("return", LARGE)
    await hand.press("escape")
    await hand.find("P2")
    await hand.press("f")
    await take("plans-circuit")


async def meter(hand: Hand, take: Take) -> None:
    """The meter check: nothing measured, something typed, a fault."""
    await hand.press("i")
    await take("meter-check")
    await hand.type("6.1")
    await take("meter-check-typed", LARGE)
    await hand.press("enter")
    await hand.type("o")
    await hand.press("enter", "up")
    await take("meter-check-fault")


async def away(hand: Hand, take: Take) -> None:
    """Papers, a venue, what stands by."""
    await hand.press("x")
    await take("papers", LARGE)
    await hand.press("escape", "V")
    await take("venue")
    await hand.press("enter")
    await hand.pick("tannery")
    await take("venue-foreseen", LARGE)
    await hand.press("escape")
    for name in ("Spares", "Stock"):
        await hand.press("t")
        await hand.pick(name)
        await take(name.lower(), LARGE)
        await hand.press("escape")
    await hand.press("V")
    await hand.pick("close")
    await hand.fill("Tannery", "2020-02-29", "Door 2 m wide.", "Ask for Kit.")
    await take("close-the-night")
    await hand.press("enter", "o", "d")
    while hand.screen.query_one("#start", Pane).place != "venue Tannery":
        await hand.press("down")
    await take("start-with-a-venue")
    await hand.press("enter", "enter")
    await take("past-night")


async def small(hand: Hand, take: Take) -> None:
    """Windows too small for anything."""
    for size in ((79, 23), (40, 12)):
        await hand.resize(*size)
        await take(f"too-small-{size[0]}")


async def diagnosis(hand: Hand, take: Take) -> None:
    """From what is heard to what has failed: nothing answered, causes, a test at the rack, a contradiction."""
    hand.workplace.go_to("TOP-R1.high")
    await hand.press("h")
    await take("nothing-answered", LARGE)
    await hand.press("s")
    await take("one-answer", MIDDLE, LARGE)
    await hand.press("n", "p", "n", "q", "n")
    await take("asks-what-a-test-shows")
    await hand.press("4", "tab")
    await take("causes", LARGE)
    await hand.press("tab", "home", *["down"] * 5, "p")
    await take("contradiction")
    await hand.press("c", "w")
    await take("nothing-to-plan")


WALKS = {
    "start": Walk(None, start),
    "workplace": Walk("hall", workplace),
    "edits": Walk("small-room", edits),
    "dialogs": Walk("small-room", dialogs),
    "pages": Walk("faults", pages),
    "tables": Walk("small-room", tables),
    "failures": Walk("hall", failures),
    "diagnosis": Walk("small-room", diagnosis),
    "meter": Walk("small-room", meter),
    "away": Walk("hall", away),
    "small": Walk("small-room", small),
}
