"""How long a plan takes to be read over a slow link: from the key that marks something failed to the first plans on the screen.

Run on request: `python tests/benchmarks/bench_link.py`. A real pseudo-terminal behind a link of 9 600 B/s with 150 ms each
way, 80x24, on the largest preset. Beside the time on the clock stand the bytes that came until then, the processor time
that the console spent, and what the two and the link add up to where the machine is free. Nothing is asserted of a time.
"""

import os
import select
import sys
import tempfile
import time
from collections import deque
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from console_live.running import call, environment
from console_live.terminal import Gone, Terminal, command

RATE, DELAY = 9600, 0.15
"""B/s and s each way."""
SLICE = 0.01
"""s of which the bytes come at once."""
FAILING = ("A1.1 channel", "A8 amplifier", "C30 line", "P7 circuit", "R3 rack")


class Link(Terminal):
    """A terminal at the far end of a slow link."""

    def __init__(self, *args, **more) -> None:  # type: ignore[no-untyped-def]
        self._on_the_way: deque[tuple[float, bytes]] = deque()
        self._next = 0.0
        super().__init__(*args, **more)

    def read(self, wait: float = 0.0) -> int:
        """Take in what has come over the link by now; the program is read from no faster than the link takes."""
        now = time.monotonic()
        last = now + wait
        while True:
            if now >= self._next and (part := self._sent(int(RATE * SLICE))):
                self._next = now + len(part) / RATE
                self._on_the_way.append((now + DELAY, part))
            if self._on_the_way and self._on_the_way[0][0] <= now:
                part = self._on_the_way.popleft()[1]
                self.taken += part
                self._stream.feed(part)
                return len(part)
            if now >= last and not self._on_the_way:
                return 0
            time.sleep(SLICE / 4)
            now = time.monotonic()

    def _sent(self, most: int) -> bytes:
        """What the program has sent, so many bytes of it."""
        if not select.select([self._master], [], [], 0)[0]:
            return b""
        try:
            return os.read(self._master, most)
        except OSError:
            raise Gone(self.text) from None

    def send_bytes(self, sent: bytes) -> None:
        """Send bytes, which come later."""
        time.sleep(DELAY)
        super().send_bytes(sent)


def worked(terminal: Terminal) -> float:
    """s of processor time that the program has spent."""
    fields = Path(f"/proc/{terminal.process.pid}/stat").read_text().rpartition(")")[2].split()
    return sum(map(int, fields[11:13])) / os.sysconf("SC_CLK_TCK")


def measured(terminal: Link, failing: str) -> str:
    """Mark something failed, read the first plan, mark it working."""
    terminal.press("/")
    terminal.until("Find")
    terminal.paste(failing)
    terminal.press("enter")
    terminal.settled(0.6)
    began, spent, came = time.monotonic(), worked(terminal), len(terminal.taken)
    terminal.press("f")
    if failing.endswith(("channel", "line")):  # what of it: f for the likeliest
        terminal.until("What of")
        began, spent, came = time.monotonic(), worked(terminal), len(terminal.taken)
        terminal.press("f")
    name = failing.partition(" ")[0]
    terminal.until(lambda text: f"{name} failed: " in text and readable(text), 60)
    clock, spent, came = time.monotonic() - began, worked(terminal) - spent, len(terminal.taken) - came
    free = 2 * DELAY + spent + came / RATE
    terminal.settled(0.6)
    terminal.press("escape")
    terminal.until("marked failed")
    terminal.press("u")
    terminal.until("Undone: ")
    terminal.settled(0.6)
    return f"{failing:>15}  {clock:7.2f}  {came:6}  {spent:5.2f}  {free:6.2f}"


def readable(text: str) -> bool:
    """Whether the first plan stands there with its first step, or that there is nothing to do."""
    return "▶ 1. " in text and ("[ ] 1." in text or "No steps. Take it" in text)


def main() -> None:
    with tempfile.TemporaryDirectory() as home:
        running = command(*call("outdoor-stage"))
        with Link(running, environment(Path(home)), columns=80, rows=24) as terminal:
            terminal.until("? help", 60)
            terminal.settled(0.6)
            print(f"{'':>15}  clock s   bytes  CPU s  free s")
            for failing in FAILING:
                print(measured(terminal, failing), flush=True)
    print(f"load of the machine: {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")


if __name__ == "__main__":
    main()
