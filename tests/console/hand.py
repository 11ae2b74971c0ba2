"""A hand on the console's keys, and an eye on its screen: the whole app without a terminal, each key settled in turn.

Waits until the loop of events has nothing left to run, never for a time, so that a busy machine changes nothing.
"""

import asyncio
import functools
import math
import unicodedata
from collections.abc import AsyncIterator, Iterable
from contextlib import asynccontextmanager
from pathlib import Path
from unittest.mock import patch

from rich.segment import Segment
from rich.style import Style
from textual._compositor import CompositorUpdate
from textual.app import App
from textual.events import Key, Paste, Resize
from textual.geometry import Size
from textual.pilot import Pilot
from textual.screen import Screen
from textual.strip import Strip

from rackwright.console import background
from rackwright.console.app import Console
from rackwright.console.session import Session
from rackwright.console.terminal import key_queue
from rackwright.console.terminal.glyphs import UNICODE, Glyphs
from rackwright.console.terminal.key_queue import KeyQueue
from rackwright.console.terminal.screen_diff import Look
from rackwright.console.widgets.form import Form
from rackwright.console.widgets.pane import Pane
from rackwright.console.workplace import Workplace
from rackwright.model.rig import Rig
from rackwright.store import presets
from rackwright.store.presets import Preset

CALM = 2
"""How often in a row nothing may be left to run before the app counts as settled."""
MARKS = {"1": "bold", "2": "dim", "3": "italic", "4": "underline", "7": "reverse", "9": "strike"}
"""Codes of SGR (ECMA-48, 8.3.117)."""
CHARACTERS = {"enter": "\r", "tab": "\t", "escape": "\x1b", "space": " "}
"""What a key sends besides its name; a key of one letter sends itself."""


class Hand:
    """One running console."""

    def __init__(self, app: Console, pilot: Pilot[None], painted: bool = False) -> None:
        self.app, self.pilot, self.painted = app, pilot, painted
        self.bears_faults = False
        """Whether an error that the app tells and survives is what the test is about."""

    # --- doing ---

    async def press(self, *keys: str) -> None:
        """Press keys by their names, each one dealt with before the next; the last is seen on the screen."""
        for key in keys:
            send(self.app, key)
            await quiet(self.app)
        await self.settle()

    async def burst(self, *keys: str) -> None:
        """Press keys all at once, as they come over a slow link."""
        for key in keys:
            send(self.app, key)
        await self.settle()

    async def type(self, text: str) -> None:
        """Type text."""
        await self.burst(*keys_of(text))

    async def write(self, text: str) -> None:
        """Type text instead of what stands in the field."""
        await self.burst(*instead(text))

    async def fill(self, *texts: str | None) -> None:
        """Type into fields one after the other, None leaving one as it is; ends on the field after the last."""
        await self.burst(*filling(texts))

    async def field(self, name: str) -> None:
        """In a form: go to a field."""
        assert isinstance(self.screen, Form)
        for _ in self.screen.fields:
            if self.app.focused is self.screen.boxes[name]:
                return
            await self.press("up")
        raise AssertionError(f"no field {name}")

    async def edit(self, name: str, field: str, text: str) -> None:
        """Write into one field of the form of a thing."""
        await self.find(name)
        await self.press("enter")
        await self.field(field)
        await self.write(text)
        await self.press("enter")

    async def pick(self, typed: str) -> None:
        """In a list: narrow it down and take what the cursor is on."""
        await self.burst(*keys_of(typed), "enter")

    async def choose(self, typed: str) -> None:
        """In a form, on a choice: open its list by a letter, narrow it down, take what the cursor is on."""
        await self.pick(typed)

    async def add(self, kind: str) -> None:
        """Open the form of a new thing."""
        await self.burst("a", *keys_of(kind), "enter")

    async def find(self, name: str) -> None:
        """Select a thing by its id as the list that / opens does; what was said goes, as with any key."""
        self.workplace.go_to(name)
        self.workplace.say("")
        await self.settle()
        assert self.session.place == name, f"{name} is not in the rig"

    async def paste(self, text: str) -> None:
        """What a terminal sends when something is pasted."""
        self.app.post_message(Paste(text))
        await self.settle()

    async def click(self, pane: str, place: str, times: int = 1) -> None:
        """Click on a row of a pane, however long the clicks take."""
        self.app.CLICK_CHAIN_TIME_THRESHOLD = 3600.0
        shown = self.pane(pane)
        at = next(index for index, row in enumerate(shown.rows) if row.place == place)
        await self.pilot.click(f"#{pane}", offset=(8, at + 1 - shown.scroll_offset.y), times=times)
        await self.settle()

    async def resize(self, width: int, height: int) -> None:
        """Make the window another size."""
        await resized(self.app, width, height)
        await self.settle()

    async def settle(self) -> None:
        """Wait until every message is dealt with and what it brought is laid out."""
        await settled(self.app)
        if self.app.faults and not self.bears_faults:
            raise self.app.faults[0]

    # --- looking ---

    @property
    def screen(self) -> Screen[object]:
        """What is in front."""
        return self.app.screen

    @property
    def workplace(self) -> Workplace:
        """The workplace, in front or behind."""
        assert self.app.workplace is not None
        return self.app.workplace

    @property
    def session(self) -> Session:
        """The rig being worked on."""
        return self.workplace.session

    @property
    def rig(self) -> Rig:
        """The rig as it is now."""
        return self.session.rig

    def strips(self) -> list[Strip]:
        """The lines of the screen, with their styles: as a terminal shows them by now, or as they would be drawn."""
        if self.painted:
            return [
                Strip(Segment(sign, _style(look)) for sign, look in row if sign)
                for row in self.app.painting._shown
            ]
        return self.app.screen._compositor.render_strips()

    @property
    def text(self) -> str:
        """What stands on the screen."""
        return "\n".join(strip.text.rstrip() for strip in self.strips())

    @property
    def words(self) -> str:
        """What stands on the screen, or in the dialog over it, without frames and wrapping, in one piece."""
        strips = self.strips()
        for box in self.screen.query(".box"):
            _, top, _, height = box.region
            strips = [strip.crop(box.region.x, box.region.right) for strip in strips[top : top + height]]
        bare = "".join(
            " " if sign in "┃│┏┓┗┛━─┌┐└┘" else sign for strip in strips for sign in f"{strip.text} "
        )
        return " ".join(bare.split())

    @property
    def foot(self) -> str:
        """The last two lines: how the rig stands, and the keys."""
        return "\n".join(self.text.splitlines()[-2:])

    def pane(self, name: str) -> Pane:
        """A pane of the workplace."""
        return self.workplace.query_one(f"#{name}", Pane)

    @property
    def title(self) -> str:
        """What the results say they are of."""
        return "".join(text for text, _ in self.pane("results").rows[0].parts).strip()

    def row(self, name: str, place: str) -> str:
        """What a pane says of a place."""
        found = [row for row in self.pane(name).rows if row.place == place]
        return "".join(text for row in found for text, _ in row.parts)

    def lit(self, name: str) -> set[str]:
        """The places of a pane that light up."""
        pane = self.pane(name)
        return {row.place for row in pane.rows if row.place in pane.lit}


def keys_of(text: str) -> list[str]:
    """The keys that type a text."""
    return ["space" if sign == " " else sign for sign in text]


def instead(text: str) -> list[str]:
    """The keys that type a text instead of what stands in the field."""
    return ["end", "ctrl+u", *keys_of(text)]


def filling(texts: Iterable[str | None]) -> list[str]:
    """The keys that type into fields one after the other, None leaving one as it is."""
    return [key for text in texts for key in (*([] if text is None else instead(text)), "down")]


def send(app: KeyQueue, key: str) -> None:
    """Send a key to an app, by its name."""
    app.post_message(Key(_name(key), CHARACTERS.get(key, key if len(key) == 1 else None)))


async def settled(app: KeyQueue) -> None:
    """Wait until an app has dealt with every message and no screen has a frame due: what changes behind a dialog is seen too."""
    while app.is_running:
        await quiet(app)
        await app.animator.wait_until_complete()
        due = [screen for screen in app.screen_stack if screen._update_timer._active.is_set()]
        for screen in due:
            screen._on_timer_update()
        if await quiet(app) and not due:
            return


async def resized(app: KeyQueue, width: int, height: int) -> None:
    """Make the window of an app another size, at once: the toolkit would gather sizes for a while."""
    size = Size(width, height)
    app._driver._size = size  # type: ignore[union-attr]
    app.post_message(Resize(size, size))
    await quiet(app)
    app._check_resize()


async def quiet(app: KeyQueue) -> bool:
    """Wait until nothing is left to run, no handler and no key; whether nothing was from the start."""
    loop, rounds, calm = asyncio.get_running_loop(), 0, 0
    while calm < CALM and app.is_running:
        await asyncio.sleep(0)
        rounds += 1
        working = bool(background.going_on)
        if working:  # give the other thread the processor
            await asyncio.sleep(0.001)
        waiting = working or (app._handing_on is not None and not app._handing_on.done())
        calm = 0 if waiting or loop._ready else calm + 1  # type: ignore[attr-defined]
    return rounds == calm


def _name(key: str) -> str:
    """How the toolkit calls a key of one sign."""
    if len(key) > 1 or key.isalnum():
        return key
    return unicodedata.name(key).lower().replace("-", "_").replace(" ", "_").replace("solidus", "slash")


@functools.cache
def shipped(name: str) -> Preset | None:
    """A preset of the program's own, read once."""
    return presets.find(name)


@asynccontextmanager
async def opened(
    path: Path | str | None = None,
    *,
    preset: str | None = None,
    size: tuple[int, int] = (110, 30),
    glyphs: Glyphs = UNICODE,
    painted: bool = False,
) -> AsyncIterator[Hand]:
    """The console running on a file, on a preset as a new rig, or from the start; `painted`, with every frame sent."""
    app = Console(None if path is None else Path(path), shipped(preset) if preset else None, glyphs)
    drawing = (
        patch.object(App, "_display", _sent)
        if painted
        else patch.object(Screen, "_compositor_refresh", not_drawn)
    )
    patient = patch.object(key_queue, "GRACE", math.inf)  # escape passes no key, however busy the machine
    with drawing, patient:
        async with app.run_test(size=size) as pilot:
            hand = Hand(app, pilot, painted)
            await hand.settle()
            yield hand


def _sent(app: Console, _screen: Screen[object], update: object) -> None:
    """Send a frame to a terminal that only remembers what it shows."""
    if isinstance(update, CompositorUpdate):
        app.painting.less(update.render_segments(app.console))


@functools.lru_cache(1024)
def _style(look: Look) -> Style:
    """What a terminal makes of the codes."""
    style = Style(**{MARKS[mark]: True for mark in look.marks})
    for name, code in (("color", look.colour), ("bgcolor", look.ground)):
        *kind, number = map(int, code.split(";"))
        if kind:
            style += Style(**{name: f"color({number})"})
        elif number % 10 < 8:
            style += Style(**{name: f"color({number % 10 + (8 if number >= 90 else 0)})"})
    return style


def not_drawn(screen: Screen[object]) -> None:
    """Draw no frame: half the time would go into frames that nobody looks at. `strips` draws when one looks."""
    screen._dirty_widgets.clear()
    screen._compositor._dirty_regions.clear()
    screen.app._update_mouse_over(screen)
