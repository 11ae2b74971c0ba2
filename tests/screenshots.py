"""Pictures for the README: of the console in real sessions on the presets, and of a paper.

`python tests/screenshots.py` writes them anew into `screenshots`; `test_screenshots` fails where they are stale.
"""

import asyncio
import html
import io
import os
import re
import sys
import tempfile
from collections.abc import Awaitable, Callable, Sequence
from pathlib import Path
from typing import NamedTuple
from unittest.mock import patch

from msgspec.structs import replace
from rich.console import Console
from rich.segment import Segment, Segments
from rich.terminal_theme import TerminalTheme
from textual.strip import Strip

sys.path.insert(0, str(Path(__file__).parent))

from console.hand import Hand, opened
from rackwright.engine.assess import assess
from rackwright.papers.racks import rack_drawing
from rackwright.papers.svg import as_svg
from rackwright.store import presets
from rackwright.store.home import VARIABLE
from rackwright.store.rig_file import load

FOLDER = Path(__file__).parents[1] / "screenshots"
THEME = TerminalTheme(
    (16, 18, 20), (214, 214, 208),
    [(40, 42, 46), (224, 96, 84), (126, 184, 110), (222, 178, 80), (104, 152, 214), (190, 130, 200), (96, 186, 190), (214, 214, 208)],
    [(128, 130, 134), (240, 120, 108), (150, 208, 132), (240, 204, 110), (130, 176, 236), (212, 156, 222), (124, 212, 216), (255, 255, 255)],
)  # fmt: skip
CELL = 12.04
"""Width of a sign in letters of 20, as in most fixed-width faces."""
PICTURE = """<svg viewBox="0 0 {width} {height}" xmlns="http://www.w3.org/2000/svg">
<style>
.{unique_id}-matrix {{ font-family: "DejaVu Sans Mono", "Liberation Mono", Menlo, Consolas, monospace; font-size: {char_height}px; line-height: {line_height}px; }}
{styles}
</style>
<defs>
<clipPath id="{unique_id}-clip-terminal"><rect x="0" y="0" width="{terminal_width}" height="{terminal_height}"/></clipPath>
{lines}
</defs>
<rect width="{width}" height="{height}" fill="#101214"/>
<g transform="translate({terminal_x}, 20)" clip-path="url(#{unique_id}-clip-terminal)">
{backgrounds}
<g class="{unique_id}-matrix">
{matrix}
</g>
</g>
</svg>
"""


class Shot(NamedTuple):
    """A picture: of which preset, at what size, after which keys."""

    preset: str
    size: tuple[int, int]
    steps: Callable[[Hand], Awaitable[None]]


async def _workplace(hand: Hand) -> None:
    await hand.find("A1.1")


async def _narrow(hand: Hand) -> None:
    await hand.find("SUB-L1")


async def _comparison(hand: Hand) -> None:
    await hand.find("C1")
    await hand.press("k", "enter")
    await hand.field("length")
    await hand.write("60 m")
    await hand.press("enter")
    await hand.find("SUB-L1")


async def _findings(hand: Hand) -> None:
    await hand.press("v")
    await hand.press("down")


async def _working(hand: Hand) -> None:
    await hand.find("SUB-L1")
    await hand.press("down", "3", *["down"] * 5, "w")


async def _graph(hand: Hand) -> None:
    await hand.find("A1.1")
    await hand.press("g")


async def _recovery(hand: Hand) -> None:
    await hand.press("L")
    await hand.find("A1.1")
    await hand.press("f", "f", "down")


async def _mains(hand: Hand) -> None:
    await hand.press("M", *["down"] * 3)


async def _meter_check(hand: Hand) -> None:
    await hand.press("i")
    for reading in ("6.1", "6.1", "o"):  # the cursor stays on what is not as expected
        await hand.type(reading)
        await hand.press("enter")


SHOTS = {
    "workplace": Shot("hall", (110, 30), _workplace),
    "narrow": Shot("hall", (80, 24), _narrow),
    "comparison": Shot("small-room", (140, 30), _comparison),
    "findings": Shot("faults", (110, 30), _findings),
    "working": Shot("hall", (110, 30), _working),
    "graph": Shot("hall", (110, 30), _graph),
    "recovery": Shot("outdoor-stage", (120, 30), _recovery),
    "mains": Shot("outdoor-stage", (110, 30), _mains),
    "meter-check": Shot("small-room", (110, 26), _meter_check),
}


def paper() -> str:
    """The drawing of a rack, as the papers have it, on white paper."""
    assessment = assess(load(presets.shipped_folder() / "small-room.toml"))
    strips = rack_drawing(assessment, assessment.index.rig.racks[0]).strips
    drawn = as_svg([replace(strip, with_next=True) for strip in strips])
    head, _, rest = drawn.partition(">")
    return f'{head}><rect x="-1" width="100%" height="100%" fill="#fff"/>{rest}'


PAPERS = {"rack-paper": paper}


async def taken(shot: Shot) -> list[Strip]:
    """The screen of a shot."""
    async with opened(preset=shot.preset, size=shot.size) as hand:
        await shot.steps(hand)
        return hand.strips()


def picture(name: str, strips: Sequence[Strip]) -> str:
    """The screen as SVG."""
    width = max(strip.cell_length for strip in strips)
    console = Console(
        record=True, width=width, file=io.StringIO(), color_system="truecolor", force_terminal=True, legacy_windows=False
    )  # fmt: skip
    for strip in strips:
        console.print(Segments([*strip, Segment.line()]), end="", soft_wrap=True)
    return console.export_svg(
        title=name, theme=THEME, code_format=PICTURE, unique_id=name, font_aspect_ratio=CELL / 20
    )


def text_of(strips: Sequence[Strip]) -> list[str]:
    """The lines of a screen."""
    return [strip.text.rstrip() for strip in strips]


def text_in(svg: str) -> list[str]:
    """The lines of a picture, read back from where its text stands."""
    rows: dict[float, dict[float, str]] = {}
    for x, y, text in re.findall(r'<text [^>]*? x="([\d.]+)" y="([\d.]+)"[^>]*>(.*?)</text>', svg, re.S):
        rows.setdefault(float(y), {})[float(x)] = html.unescape(text).replace("\xa0", " ")
    lines = []
    for y in sorted(rows):
        line = ""
        for x, text in sorted(rows[y].items()):
            line = line.ljust(round(x / CELL)) + text.rstrip("\n")
        lines.append(line.rstrip())
    return lines


async def main() -> None:
    """Write every picture."""
    FOLDER.mkdir(exist_ok=True)
    for file in FOLDER.glob("*.svg"):
        file.unlink()
    with tempfile.TemporaryDirectory() as home, patch.dict(os.environ, {VARIABLE: home}):
        for name, shot in SHOTS.items():
            (FOLDER / f"{name}.svg").write_text(picture(name, await taken(shot)), "utf-8")
    for name, made in PAPERS.items():
        (FOLDER / f"{name}.svg").write_text(made(), "utf-8")


if __name__ == "__main__":
    asyncio.run(main())
