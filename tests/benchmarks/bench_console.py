"""How long the console takes to its first screen and from a key to the settled screen, and the bytes that this sends.

Run on request: `python tests/benchmarks/bench_console.py`. A real pseudo-terminal, a process of its own for each run,
keys one by one, each waited for until nothing more comes. Nothing is asserted of a time. Beside each time on the clock
stands the processor time spent, which a busy machine does not lengthen as much. Bytes per cell are all bytes sent over
all cells that changed on the screen; MB is what the process takes in memory once its first screen stands, and at most.
`bare` is a program of the toolkit with one line that a key changes: what no console built on it can be under.
"""

import argparse
import math
import os
import re
import sys
import tempfile
import time
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from statistics import median
from typing import NamedTuple

sys.path.insert(0, str(Path(__file__).parents[1]))

from console_live.running import call, environment
from console_live.terminal import Terminal, command

SIZES = ((140, 45), (80, 24))
PRESETS = ("hall", "outdoor-stage")
QUIET = 0.12
"""Seconds without a byte, and without work, after which the screen counts as settled."""
IDLE = 0.002
"""Seconds of processor time in that while that still count as doing nothing."""
STARTS = 5

TO_A_CHANNEL = ("home", "down", "down", "down")
MOVES = (*["down"] * 24, *["up"] * 4, "pagedown", "pageup", "tab", *["down"] * 16, "pagedown", "pageup", "tab",
         *["down"] * 5, "shift+tab", *["up"] * 4, "shift+tab")  # fmt: skip
EDITS = (
    "2",
    "home",
    "down",
    *["r", "r", "r", "u", "u", "U"] * 3,
    "down",
    *["r", "u", "U"] * 2,
    "home",
    "d",
    "u",
    "1",
)
FAILURES = (*TO_A_CHANNEL, *["f", "down", "down", "up", "escape", "f", "down"] * 2)
DIALOGS = ("v", "down", "down", "escape", "w", "w", "escape", "1", *TO_A_CHANNEL, "enter", "right", "right",
           "escape", "slash", "A", "2", "escape", "question_mark", "pagedown", "escape")  # fmt: skip
BARE = """
import gc, os
gc.disable()
os.environ["TEXTUAL_FPS"] = "1000"
from textual.app import App
from textual.widget import Widget

class Line(Widget, can_focus=True):
    keys = 0

    def on_key(self):
        self.keys += 1
        self.refresh()

    def render(self):
        return f"help {self.keys}"

class Bare(App):
    CSS = "Line { height: 1; }"
    ENABLE_COMMAND_PALETTE = False

    def compose(self):
        yield Line()

Bare(ansi_color=True).run()
"""
NAMES = {"slash": "/", "question_mark": "?"}
GROUPS = (("move", MOVES), ("edit", EDITS), ("dialog", DIALOGS), ("failure", FAILURES))

KINDS = (
    ("colour and style", re.compile(rb"\x1b\[[\d;:]*m")),
    ("cursor moves", re.compile(rb"\x1b\[[\d;]*[ABCDGHd]|\r|\n")),
    ("erasing", re.compile(rb"\x1b\[\d*[JKX]")),
    ("other control", re.compile(rb"\x1b\[[<>=?]?[\d;$]*[a-zA-Z]|\x1b[()][A-Z0-9]|\x1b\][^\x07\x1b]*(?:\x07|\x1b\\)|\x1b.")),
    ("letters, digits, spaces", re.compile(rb"[\x20-\x7e]+")),
    ("other signs", re.compile(rb"[\x80-\xff]+")),
)  # fmt: skip


class Taken(NamedTuple):
    """What one key took."""

    group: str
    key: str
    clock: float
    """Seconds until the last byte came."""
    processor: float
    """Seconds of processor time."""
    sent: bytes
    cells: int
    """Cells that changed on the screen."""


class Run(NamedTuple):
    """One size and preset."""

    start: list[float]
    """Seconds to the first complete screen, each start."""
    start_processor: list[float]
    first: bytes
    keys: list[Taken]
    memory: tuple[float, float]
    """MB of the process with its first screen, and at most."""


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("presets", nargs="*", default=("bare", *PRESETS), help="presets, or bare")
    parser.add_argument("--starts", type=int, default=STARTS, help="how often to start, for the median")
    parser.add_argument("--each", action="store_true", help="print every key")
    options = parser.parse_args()
    print(f"{os.cpu_count()} processors, load {os.getloadavg()[0]:.1f}")
    print(_HEAD)
    runs = {}
    for preset in options.presets:
        for size in SIZES:
            run = runs[preset, size] = measured(preset, size, options.starts)
            print(_row(preset, size, run), flush=True)
            if options.each:
                print(_each(run))
    print("\nWhere the bytes go, percent")
    print(_kinds(runs))


def measured(preset: str, size: tuple[int, int], starts: int) -> Run:
    """Start so many times, press the keys in the last."""
    starts_taken = []
    keys = GROUPS if preset != "bare" else (("move", ("down",) * 60),)
    with tempfile.TemporaryDirectory() as folder:
        for _ in range(max(starts - 1, 0)):
            with _started(preset, size, folder) as terminal:
                starts_taken.append(_first_screen(terminal))
        with _started(preset, size, folder) as terminal:
            starts_taken.append(_first_screen(terminal))
            first, begun = bytes(terminal.taken), _memory(terminal.process.pid, "VmRSS")
            taken = [_pressed(terminal, group, key) for group, pressed in keys for key in pressed]
            memory = begun, _memory(terminal.process.pid, "VmHWM")
    clocks, processor = ([*each] for each in zip(*starts_taken, strict=True))
    return Run(clocks, processor, first, taken, memory)


def _started(preset: str, size: tuple[int, int], folder: str) -> Terminal:
    words = [sys.executable, "-c", BARE] if preset == "bare" else call(preset)
    home = Path(folder, "home")
    return Terminal(command(*words), environment(home), columns=size[0], rows=size[1], cwd=folder)


def _first_screen(terminal: Terminal) -> tuple[float, float]:
    """Seconds until the last byte of the first screen that has its foot, on the clock and of the processor."""
    clock = processor = 0.0
    while terminal.read(0.3 if "help" in terminal.text else 30):
        clock = time.monotonic() - terminal.began
        processor = _processor_time(terminal.process.pid)
    return clock, processor


def _pressed(terminal: Terminal, group: str, key: str) -> Taken:
    before, spent = len(terminal.taken), _processor_time(terminal.process.pid)
    stood = _cells(terminal)
    begun = last = time.monotonic()
    terminal.press(NAMES.get(key, key))
    busy = spent
    while (came := terminal.take(QUIET)) or _processor_time(terminal.process.pid) - busy > IDLE:
        last = time.monotonic() if came else last
        busy = _processor_time(terminal.process.pid)
    processor = _processor_time(terminal.process.pid) - spent
    terminal.show()
    cells = sum(was != now for was, now in zip(stood, _cells(terminal), strict=True))
    return Taken(group, key, last - begun, processor, bytes(terminal.taken[before:]), cells)


def _cells(terminal: Terminal) -> list[object]:
    """Every cell of the screen, its sign and its looks."""
    screen = terminal.screen
    return [screen.buffer[y][x] for y in range(screen.lines) for x in range(screen.columns)]


def _memory(process: int, name: str) -> float:
    """MB that the process takes, by its name in proc(5); nan where the system doesn't tell."""
    try:
        lines = Path(f"/proc/{process}/status").read_text().splitlines()
        return next(int(line.split()[1]) for line in lines if line.startswith(name)) / 1024
    except (OSError, StopIteration):
        return math.nan


def _processor_time(process: int) -> float:
    """Seconds that the process has had a processor, all its threads; nan where the system doesn't tell (proc(5))."""
    try:
        threads = list(Path(f"/proc/{process}/task").iterdir())
        return sum(int((thread / "schedstat").read_text().split()[0]) for thread in threads) / 1e9
    except (OSError, IndexError):
        return math.nan


# --- tables -------------------------------------------------------------------------------------------

_HEAD = (
    f"{'preset':<14} {'size':<7} {'start s':>7} {'cpu s':>6} {'first kB':>8}  {'keys':<7} {'n':>3} "
    f"{'ms':>6} {'95th':>6} {'cpu ms':>6} {'95th':>6} {'kB':>6} {'95th':>6} {'B/cell':>6} {'MB':>9}"
)


def _row(preset: str, size: tuple[int, int], run: Run) -> str:
    head = (
        f"{preset:<14} {size[0]}x{size[1]:<3} {median(run.start):>7.2f} {median(run.start_processor):>6.2f} "
        f"{len(run.first) / 1e3:>8.1f}"
    )
    parts = ((name, [k for k in run.keys if k.group == name]) for name, _ in GROUPS)
    groups = [("all", run.keys), *((name, part) for name, part in parts if part)]
    lines = [f"{head if not n else '':<{len(head)}}  {_figures(*group)}" for n, group in enumerate(groups)]
    begun, most = run.memory
    return "\n".join([f"{lines[0]} {begun:>4.0f} {most:>4.0f}", *lines[1:]])


def _figures(name: str, keys: Sequence[Taken]) -> str:
    columns = (
        ([k.clock * 1e3 for k in keys], 1),
        ([k.processor * 1e3 for k in keys], 1),
        ([len(k.sent) / 1e3 for k in keys], 2),
    )
    cells = [
        f"{value:>6.{places}f}" for column, places in columns for value in (median(column), _high(column))
    ]
    per_cell = sum(len(k.sent) for k in keys) / max(sum(k.cells for k in keys), 1)
    return f"{name:<7} {len(keys):>3} {' '.join(cells)} {per_cell:>6.2f}"


def _high(values: Iterable[float]) -> float:
    """The 95th percentile: the least value that 95 % are at or under."""
    ordered = sorted(values)
    return ordered[math.ceil(0.95 * len(ordered)) - 1]


def _each(run: Run) -> str:
    return "\n".join(
        f"    {k.group:<7} {k.key:<10} {k.clock * 1e3:>7.1f} ms {k.processor * 1e3:>7.1f} ms cpu {len(k.sent):>6} B"
        for k in run.keys
    )


def _kinds(runs: dict[tuple[str, tuple[int, int]], Run]) -> str:
    names = [name for name, _ in KINDS]
    lines = [f"{'':<34}" + "".join(f"{name:>25}" for name in names)]
    for (preset, (columns, rows)), run in runs.items():
        for what, sent in (("first screen", run.first), ("keys", b"".join(k.sent for k in run.keys))):
            counts = dict(split(sent))
            cells = "".join(f"{counts.get(name, 0) / max(len(sent), 1):>25.0%}" for name in names)
            lines.append(f"{preset:<14} {f'{columns}x{rows}':<7} {what:<12}{cells}")
    return "\n".join(lines)


def split(sent: bytes) -> Iterator[tuple[str, int]]:
    """Bytes of each kind."""
    rest = sent
    for name, pattern in KINDS:
        left = pattern.sub(b"", rest)
        yield name, len(rest) - len(left)
        rest = left


if __name__ == "__main__":
    main()
