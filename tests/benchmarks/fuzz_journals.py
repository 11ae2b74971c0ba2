"""Damaging crash journals: their bytes, their lengths, and what stands in them under a checksum that is right.

Run on request: `python tests/benchmarks/fuzz_journals.py [COUNT] [SEED]`. Each journal is listed, its rig is taken from
it and assessed, and it is taken over, as the console does at its start. Prints how many there were and how they ended;
exit status 1 where one ended in anything but a rig or a sentence.
"""

import json
import random
import sys
from collections import Counter
from collections.abc import Callable
from pathlib import Path

from msgspec.structs import replace

sys.path.insert(0, str(Path(__file__).parents[1]))

from damage import Endless, fuzz, spoilt, swapped, watched
from rackwright.console import document as documents
from rackwright.console import leftovers
from rackwright.console.screens.start import when_words
from rackwright.model import rules
from rackwright.store import rig_file
from rackwright.store.safe import journal
from rackwright.store.safe.journal_record import SLOT, framed
from store.sample import WHOLE

PATIENCE = 30.0
"""Seconds: a thousand times what one of these journals takes."""


def signed(about: bytes, rig: bytes) -> bytes:
    """A record with its checksum right, whatever it holds."""
    body = about + b"\n" + rig
    return framed(body)


def sample() -> bytes:
    """A journal as a session leaves it that ended with two rigs recorded."""
    rig = rig_file.loads(WHOLE)
    keeper = journal.Journal("show.toml")
    keeper.record(rig)
    keeper.record(replace(rig, name="Later"))
    keeper.close()
    (file,) = journal._files()
    content = file.read_bytes()
    file.unlink()
    return content


def damaged(chance: random.Random, good: bytes) -> tuple[str, bytes]:
    """What was done to a journal, and what came of it."""
    _, _, body = good[:SLOT].rstrip(b"\0").partition(b"\n")
    about, _, rig = body.partition(b"\n")
    match chance.randrange(5):
        case 0:
            near = chance.choice((0, SLOT)) + chance.randrange(4000)
            return "bytes", good[:near] + spoilt(chance, good[near : near + 400]) + good[near + 400 :]
        case 1:
            return "length", good[
                : chance.choice((0, 1, 90, 400, len(good) - 1, chance.randrange(len(good))))
            ]
        case 2:
            odd = json.dumps(swapped(chance, json.loads(about))).encode("ascii")
            return "odd head", signed(odd, rig)
        case 3:
            return "odd rig", signed(about, json.dumps(swapped(chance, json.loads(rig))).encode("ascii"))
        case _:
            return "odd text", signed(spoilt(chance, about), spoilt(chance, rig))


def opened() -> str:
    """Do with what lies in the folder as the console does at its start; how that ended."""
    ends = []
    for found in leftovers.leftovers():
        str(found.owner), when_words(found.when), str(found.path)
        try:
            document = documents.recovered(found)
        except (journal.JournalError, rig_file.RigFileError, OSError):
            ends.append("told")
            continue
        if rules.check(document.session.rig):
            return "a rig that breaks rules"
        document.close()
        ends.append("recovered")
    return " ".join(ends) or "nothing"


def fuzzed(count: int, seed: int, say: Callable[[str], None] = print) -> int:
    """Damage so many journals; how many of them ended as none may."""
    chance = random.Random(seed)
    good = sample()
    ends: dict[str, Counter[str]] = {}
    found = 0
    folder = journal.home() / "journal"
    for number in range(count):
        done, content = damaged(chance, good)
        for former in folder.iterdir():
            former.unlink()
        (folder / "0123456789abcdef.journal").write_bytes(content)
        try:
            with watched(PATIENCE):
                ended = opened()
        except Endless:
            ended = "without an end"
        except Exception as error:
            ended = f"{type(error).__name__}: {error}"
        ends.setdefault(done, Counter())[ended if ended in ("told", "recovered", "nothing") else "found"] += 1
        if ended not in ("told", "recovered"):
            found += 1
            Path(f"found-{number}.journal").write_bytes(content)
            say(f"journal {number}, {done}: {ended[:300]}")
    for name, counted in ends.items():
        say(f"{name}: {', '.join(f'{n} {end}' for end, n in sorted(counted.items()))}")
    return found


if __name__ == "__main__":
    sys.exit(fuzz(__doc__, "journals", fuzzed))
