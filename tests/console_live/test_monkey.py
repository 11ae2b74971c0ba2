"""Random keys by the thousand: nothing crashes, and the rig that comes of it always saves and loads.

`RACKWRIGHT_MONKEY=20000` presses so many keys instead, for a longer run; `RACKWRIGHT_MONKEY_SEED` starts elsewhere.
"""

import os
import random
from pathlib import Path

import pytest

from console.hand import Hand, opened
from rackwright.console import commands
from rackwright.console.terminal.glyphs import ASCII, UNICODE
from rackwright.console.workplace import Workplace
from rackwright.engine.assess import assess
from rackwright.model import rules
from rackwright.store import rig_file

KEYS = int(os.environ.get("RACKWRIGHT_MONKEY", "400"))
SEED = int(os.environ.get("RACKWRIGHT_MONKEY_SEED", "0"))
BATCH = 40
"""Keys between two looks at the rig."""
SIZES = ((140, 45), (80, 24), (112, 30), (60, 12))

COMMANDS = [
    key if (key := {"slash": "/", "equals_sign": "=", "question_mark": "?"}.get(c.key, c.key)) else ""
    for c in commands.COMMANDS
    if c.key not in ("q", "o")
]
"""Every command's key but the two that leave the rig; those are pressed apart."""
MOVES = ("up", "down", "left", "right", "home", "end", "pageup", "pagedown", "tab", "shift+tab")
LETTERS = (*"abcdefghijklmnoprstuvwxyzALMRSU0123456789.-+/' ", "backspace", "delete", "ctrl+u", "Ω", "ü", "…")
WEIGHTS = {"enter": 22, "escape": 9, "space": 2, "y": 2, "ctrl+p": 1}
CHOICES = (*COMMANDS, *MOVES, *MOVES, *(key for key, often in WEIGHTS.items() for _ in range(often)))


def drawn(chance: random.Random) -> list[str]:
    """A few keys that belong together: a command, moves, or something typed."""
    match chance.randrange(10):
        case 0:
            return [chance.choice(LETTERS) for _ in range(chance.randint(1, 4))]
        case 1 | 2:
            return [chance.choice(MOVES)] * chance.randint(1, 6)
        case _:
            return [chance.choice(CHOICES)]


async def press(hand: Hand, chance: random.Random, pressed: list[str]) -> None:
    """A batch, some of it all at once."""
    batch: list[str] = []
    while len(batch) < BATCH:
        batch += ["space" if key == " " else key for key in drawn(chance)]
    pressed += batch
    while batch:
        some = chance.choice([1, 1, 1, 4, 10])
        await hand.burst(*batch[:some])
        del batch[:some]
    if chance.random() < 0.1:
        await hand.resize(*chance.choice(SIZES))


async def monkey(hand: Hand, chance: random.Random, count: int, folder: Path) -> None:
    pressed: list[str] = []
    for number in range(count // BATCH):
        try:
            await press(hand, chance, pressed)
        except AssertionError:
            raise
        except BaseException:
            print("the last keys:", *pressed[-2 * BATCH :])
            raise
        assert hand.app._exception is None, pressed[-2 * BATCH :]
        if not hand.app.is_running:  # it has found the command that quits
            return
        check(hand, folder / f"{number}.toml", pressed)
        if len(hand.rig.cabinets) > 60:  # the rig must not grow without end: that tests patience only
            back_to_the_workplace = [*["escape"] * 8, *["u"] * 40]
            await hand.burst(*back_to_the_workplace)


def check(hand: Hand, path: Path, pressed: list[str]) -> None:
    """The rig keeps the rules, saves and loads equal, and is what the screen is about."""
    rig = hand.rig
    assert rules.check(rig) == (), pressed[-2 * BATCH :]
    rig_file.save(rig, path)
    assert rig_file.load(path) == rig, pressed[-2 * BATCH :]
    path.unlink()
    session = hand.session
    assert session.exists(session.place)
    assert session.assessment.index.rig is rig
    if session.unsaved and session.history.undoes and not session.journal_trouble:
        assert rig_file.loads(rig_file.dumps(rig)) == rig
    assert session.assessment.findings == assess(rig).findings, "what is reused is as good as new"


@pytest.mark.parametrize("start", ["small-room", "", "hall"])
async def test_random_keys(start: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)  # a file that the monkey saves goes here
    chance = random.Random(f"{start} {SEED}")
    share = KEYS // 5 if start == "hall" else KEYS * 2 // 5
    glyphs = ASCII if start == "" else UNICODE
    async with opened(preset=start or None, size=SIZES[0], glyphs=glyphs) as hand:
        if not start:
            await hand.press("n")
        assert isinstance(hand.screen, Workplace)
        await monkey(hand, chance, share, tmp_path)
