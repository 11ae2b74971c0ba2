"""Feeding the command damaged files: rigs, venues, equipment, lists of stock, filled meter sheets, spreadsheets, lists of papers.

Run on request: `python tests/benchmarks/fuzz_files.py [COUNT] [SEED]`. Each file goes through the whole command, in one
process and under a watchdog. Prints how many there were and how they ended; exit status 1 where one ended in anything
but a sentence and a known status, took too long, or sent a terminal what steers it. What did is kept beside the script's
working folder, and named.
"""

import contextlib
import io
import random
import shutil
import sys
import tomllib
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import tomli_w

sys.path.insert(0, str(Path(__file__).parents[1]))

from damage import Endless, fuzz, spoilt, swapped, watched
from rackwright.cli.run import run
from rackwright.cli.status import USAGE
from rackwright.store import log
from rackwright.units.safe_text import safe
from store.sample import EQUIPMENT, WHOLE

PATIENCE = 30.0
"""Seconds: a hundred times what the slowest of these files takes, for a machine that does much else."""
KNOWN = {0, 1, 2, 3, USAGE}


class Kind(NamedTuple):
    """A kind of file: where it stands, what a good one holds, which command reads it."""

    name: str
    place: str
    good: bytes
    words: tuple[str, ...]


class Ended(NamedTuple):
    """How a command ended: its status, or what went wrong."""

    status: int
    wrong: str


def commanded(words: tuple[str, ...]) -> Ended:
    """Run a command in this process."""
    out, err = (io.TextIOWrapper(io.BytesIO(), "utf-8", write_through=True) for _ in range(2))
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err), watched(PATIENCE):
            status = run(words)
    except Endless:
        return Ended(-1, "without an end")
    except BaseException as error:
        return Ended(-1, f"{type(error).__name__}: {error}")
    said = [stream.buffer.getvalue().decode("utf-8") for stream in (out, err)]  # type: ignore[attr-defined]
    if status == log.STATUS or status not in KNOWN:
        return Ended(status, f"status {status}: {said[1][:400]}")
    if any(safe(text, keep="\n") != text for text in said):
        return Ended(status, "what steers a terminal")
    return Ended(status, "" if any(said) else "not a word")


def kinds() -> tuple[Kind, ...]:
    """The kinds of files, made from good ones that the command itself writes."""
    Path("good.toml").write_text(WHOLE, encoding="utf-8")
    for words in (
        ("venue", "save", "good.toml", "--out", "venue.toml"),
        ("meter", "good.toml", "--csv", "sheet.csv"),
        ("papers", "good.toml", "--out", "sheets", "--only", "mains", "--format", "txt"),
    ):
        assert commanded(words).status in KNOWN, words
    header, *rows = Path("sheet.csv").read_text(encoding="utf-8").splitlines()
    reading = header.split(",").index("reading")
    filled = [",".join([*(cells := row.split(","))[:reading], "5.9", *cells[reading + 1 :]]) for row in rows]
    sheet = "\n".join((header, *filled, "")).encode()
    listed = Path("sheets/.rackwright-papers.json").read_bytes()
    csv = (
        b"id,name,channels,height (U),power 8 ohm (W),damping factor 8 ohm,gain (dB),idle power (W),efficiency,power factor,"
        b"inrush (A),terminals,max current (A),weight (kg)\n"
        b'four,"Four, of them",4,2,500,300,32,60,80 %,0.9,40,exposed,30,9\n'
    )
    boxes = (
        b"id;connector;section;kind;impedance (ohm);re (ohm);power (W);lowest (Hz)\n"
        b"duo;4-pole;upper;low;8;5,4;400;30\nduo;4-pole;lower;low;8;5,4;400;30\n"
    )
    stock = b'[[stock]]\ncable = "flex-4x2.5"\nlength = "20 m"\ncount = 4\n'
    return (
        Kind("rig", "rig.toml", WHOLE.encode(), ("check", "rig.toml")),
        Kind("rig, as JSON", "rig.toml", WHOLE.encode(), ("check", "rig.toml", "--json")),
        Kind("rig, its mains", "rig.toml", WHOLE.encode(), ("circuits", "rig.toml")),
        Kind("venue", "v.toml", Path("venue.toml").read_bytes(), ("venue", "apply", "good.toml", "v.toml", "--out", "new.toml")),
        Kind("equipment", "home/equipment/mine.toml", EQUIPMENT.encode(), ("equipment",)),
        Kind("preset", "home/presets/mine.toml", WHOLE.encode(), ("check", "mine")),
        Kind("stock", "home/stock.toml", stock, ("papers", "good.toml", "--out", "p", "--only", "pull", "--format", "txt")),
        Kind("readings", "filled.csv", sheet, ("meter", "good.toml", "--readings", "filled.csv")),
        Kind("amplifiers in CSV", "list.csv", csv, ("equipment", "import", "list.csv", "--dry-run")),
        Kind("loudspeakers in CSV", "list.csv", boxes, ("equipment", "import", "list.csv", "--dry-run")),
        Kind("list of papers", "sheets/.rackwright-papers.json", listed, ("papers", "good.toml", "--out", "sheets", "--only", "mains", "--format", "txt")),
    )  # fmt: skip


def damaged(chance: random.Random, kind: Kind) -> bytes:
    """A file of that kind with something wrong in it."""
    if kind.place.endswith(".toml") and chance.random() < 0.4:
        with contextlib.suppress(TypeError, ValueError):  # what TOML can't write
            return tomli_w.dumps(swapped(chance, tomllib.loads(kind.good.decode()))).encode()
    return spoilt(chance, kind.good)


def fuzzed(count: int, seed: int, say: Callable[[str], None] = print) -> int:
    """Run so many damaged files through the command; how many of them ended as none may."""
    chance = random.Random(seed)
    ends: dict[str, Counter[int]] = {}
    found = 0
    all_kinds = kinds()
    for number in range(count):
        kind = all_kinds[number % len(all_kinds)]
        place = Path(kind.place)
        place.parent.mkdir(parents=True, exist_ok=True)
        content = damaged(chance, kind)
        place.write_bytes(content)
        ended = commanded(kind.words)
        ends.setdefault(kind.name, Counter())[ended.status] += 1
        place.unlink()
        for made in ("new.toml", "p"):
            shutil.rmtree(made, ignore_errors=True)
            Path(made).unlink(missing_ok=True)
        if ended.wrong:
            found += 1
            Path(f"found-{number}").write_bytes(content)
            say(f"file {number}, {kind.name}: {ended.wrong}")
    for name, statuses in ends.items():
        told = ", ".join(f"{n} with status {status}" for status, n in sorted(statuses.items()))
        say(f"{name}: {told}")
    return found


if __name__ == "__main__":
    sys.exit(fuzz(__doc__, "files", fuzzed))
