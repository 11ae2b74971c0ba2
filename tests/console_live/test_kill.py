"""The console killed after each edit: the next start offers the rig as the screen showed it last, and gives it back."""

import random
import signal
from collections.abc import Iterator, Sequence
from itertools import islice
from pathlib import Path

import pytest
from msgspec.structs import replace

from console.hand import opened
from rackwright.console import document as documents
from rackwright.console import leftovers
from rackwright.model import edits
from rackwright.model.lines import Cabinet
from rackwright.model.night import Night
from rackwright.model.rig import Rig
from rackwright.store import presets, rig_file
from rackwright.store.safe import journal
from rackwright.store.safe.file_lock import Held
from rackwright.store.safe.undo_log import Moment
from rackwright.units import Length

from .running import console, environment
from .steps import Step, drawn
from .terminal import Terminal

SIGNALS = (signal.SIGKILL, signal.SIGHUP, signal.SIGTERM)
SIZE = (170, 45)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "venue.toml"
    presets.copy_out("small-room", path)
    return path


async def by_hand(file: Path, steps: list[Step]) -> list[Rig]:
    """The rig after each step, as the same keys make it with no terminal and no kill."""
    rigs = []
    async with opened(file, size=SIZE) as hand:
        for step in steps:
            await hand.burst(*("space" if key == " " else key for key in step.keys))
            assert hand.session.history.undoes.label.startswith(step.label), (
                step,
                hand.session.history.undoes,
            )
            rigs.append(hand.rig)
        hand.session.recorder.discard()
        hand.workplace.document.close()
    assert journal.recoverable() == ()
    return rigs


def press(terminal: Terminal, step: Step) -> None:
    """All keys at once, as they come over a slow link; wait until the foot says that it is done."""
    terminal.press(*step.keys)
    terminal.until(f"undo {step.label}")


def recover(terminal: Terminal) -> None:
    """Take the unsaved work: on the start it stands first, before a file it is asked about."""
    text = terminal.until(lambda text: "Recover unsaved work" in text or "recover it" in text)
    terminal.press("r" if "recover it" in text else "enter")
    terminal.until(lambda text: "unsaved" in text and "Results" in text)


async def test_after_each_edit_the_rig_comes_back(file: Path, home: Path) -> None:
    """One edit a life: each session recovers what the one before it left, makes an edit and is killed."""
    steps = list(islice(drawn(9, rig_file.load(file)), len(SIGNALS)))
    rigs = await by_hand(file, steps)
    for life, (number, step, rig) in enumerate(zip(SIGNALS, steps, rigs, strict=True)):
        named = console(str(file)) if life % 2 == 0 else console()
        with Terminal(named, environment(home), columns=SIZE[0], rows=SIZE[1]) as terminal:
            if life:
                recover(terminal)
            else:
                terminal.until("Results")
            press(terminal, step)
            terminal.end(number)
        (found,) = journal.recoverable()
        assert found.rig() == timed_as(found.rig(), rig)
        assert (found.path, found.owner_alive, found.damage) == (file, False, "")
    assert rig_file.load(file) != rigs[-1]


async def test_several_edits_in_one_life(file: Path, home: Path) -> None:
    steps = list(islice(drawn(4, rig_file.load(file)), 2))
    rigs = await by_hand(file, steps)
    with Terminal(console(str(file)), environment(home), columns=SIZE[0], rows=SIZE[1]) as terminal:
        terminal.until("Results")
        for step, rig in zip(steps, rigs, strict=True):
            press(terminal, step)
            recorded = only(file).rig()
            assert recorded == timed_as(recorded, rig), "what the screen shows is on the disk already"
        terminal.end(signal.SIGKILL)
    assert only(file).rig() == recorded
    with Terminal(console(str(file)), environment(home), columns=SIZE[0], rows=SIZE[1]) as terminal:
        recover(terminal)
        terminal.press("s")
        terminal.until("Saved ")
        terminal.press("q")
        assert terminal.ended() == 0
    assert rig_file.load(file) == recorded
    assert journal.recoverable() == ()


def timed_as(recorded: Rig, rig: Rig) -> Rig:
    """A rig that was made by hand a little before the recorded one, its failures marked when those were: each has a time."""

    def timed(there: Night, here: Night) -> Night:
        pairs = list(zip(there.failures, here.failures, strict=True))
        assert all(a.when >= b.when > "" for a, b in pairs)
        return replace(here, failures=tuple(replace(b, when=a.when) for a, b in pairs))

    return replace(rig, night=tuple(timed(*pair) for pair in zip(recorded.night, rig.night, strict=True)))


def only(file: Path) -> journal.Recoverable:
    """The one journal there is, whether or not its session lives; it belongs to that file."""
    (found,) = journal.recoverable()
    assert found.path == file
    return found


def test_keys_close_behind_each_other_go_where_they_are_meant_for(file: Path, home: Path) -> None:
    """`L` typed behind `/` is a letter of an id, not the edit lock. Escape and a letter that a link bunches look like
    Alt and the letter; typed into a form it would be applied.
    """
    with Terminal(console(str(file)), environment(home), columns=SIZE[0], rows=SIZE[1]) as terminal:
        terminal.until("Results")
        terminal.press("/", *"SUB-L1", "escape", "/", *"C2", "enter")
        assert "EDIT LOCK" not in terminal.until("Line C2")
        terminal.press("enter")
        terminal.until("Cores per pole")
        terminal.send("\x1bt")
        assert "Cores per pole" not in terminal.until("My equipment library")


def test_a_kill_while_a_form_is_open_loses_only_the_form(file: Path, home: Path) -> None:
    with Terminal(console(str(file)), environment(home), columns=SIZE[0], rows=SIZE[1]) as terminal:
        terminal.until("Results")
        press(terminal, Step(("/", *"SUB-L1 cabinet", "enter", "d"), "duplicate SUB-L1"))
        terminal.press("enter")
        terminal.until("Priority")
        terminal.press("down", "down", "down", "7")
        terminal.settled()
        terminal.end(signal.SIGHUP)
    assert only(file).rig() == edits.duplicate(rig_file.load(file), "SUB-L1")


# --- the same without a terminal, for many more edits ---------------------------------------------------


def changes(start: Rig, seed: int) -> Iterator[tuple[str, Rig]]:
    """Edits of many kinds one on the other, each with its words."""
    chance, rig, number = random.Random(seed), start, 0
    while True:
        number += 1
        kind = chance.choice(["lengthen", "fail", "duplicate", "remove", "note", "add"])
        try:
            match kind:
                case "lengthen":
                    line = chance.choice(rig.lines).id
                    rig = edits.change(rig, line, length=Length.parse(f"{chance.randint(1, 99)} m"))
                case "fail":
                    amplifier = chance.choice(rig.amplifiers())
                    rig = edits.change(rig, [f"{amplifier.id}.1"], state=chance.choice(["ok", "failed"]))
                case "duplicate" if len(rig.cabinets) < 40:
                    rig = edits.duplicate(rig, chance.choice(rig.cabinets).id)
                case "remove" if len(rig.cabinets) > 3:
                    rig = edits.remove(rig, chance.choice(rig.cabinets).id, with_dependents=True)
                case "note":
                    rig = edits.change_settings(rig, notes=f"{number}\n" * chance.randint(0, 99))
                case "add":
                    rig = edits.add(rig, Cabinet(id=f"NEW-{number}", model=rig.cabinets[0].model))
        except (edits.EditError, IndexError):
            continue
        yield kind, rig


def test_many_edits_through_the_session(file: Path) -> None:
    """After each edit, undo or redo what another process would find is the rig as it is now."""
    document = documents.opened(file)
    session, chance = document.session, random.Random(1)
    kept = session.recorder
    assert isinstance(kept, journal.Journal)
    for kind, rig in islice(changes(session.rig, 1), 120):
        session.apply(kind, lambda _before, after=rig: after)
        for _ in range(chance.choice([0, 0, 1, 3])):
            session.undo()
        for _ in range(chance.choice([0, 0, 1])):
            session.redo()
        if session.history.undoes:
            assert read_back(kept) == session.rig
        session.apply("on with it", lambda _before, after=rig: after)
        assert read_back(kept) == rig
    document.close()


def test_undo_and_redo_outlive_kills_and_a_save(file: Path) -> None:
    """Life after life each with edits, undo and redo, ended with no word: the next goes back and forth as it would have."""
    made, chance = changes(rig_file.load(file), 3), random.Random(7)
    document = documents.opened(file)
    for life in range(6):
        session = document.session
        for number, (kind, rig) in enumerate(islice(made, chance.randint(1, 9))):
            session.apply(f"{kind} {life}.{number}", lambda _before, after=rig: after, when=f"21:{number:02}")
            for go in chance.choices((session.undo, session.redo, lambda: None), k=3):
                go()
            if (life, number) == (2, 0):
                document.save()
        session.apply("last", lambda rig, life=life: edits.change_settings(rig, name=f"{rig.name}{life}"))
        stacks = told(session.history.all)
        session.recorder.close()  # all that a kill leaves
        document.lock.release()
        (found,) = leftovers.leftovers()
        document = documents.recovered(found)
        assert told(document.session.history.all) == stacks
    depth = len(stacks[0])
    assert depth > 12
    for label, when, rig in reversed(stacks[0]):
        assert (document.session.undo(), document.session.rig) == ((label,), rig), when
    document.save()
    document.close()


def told(stacks: Sequence[Sequence[Moment]]) -> list[list[tuple[str, str, Rig]]]:
    return [[(moment.label, moment.when, moment.was()) for moment in stack] for stack in stacks]


def read_back(kept: journal.Journal) -> Rig:
    found = journal._look(kept._file)
    assert found is not None
    return found.rig()


def test_recovered_work_can_be_recovered_again_and_again(file: Path) -> None:
    edits = changes(rig_file.load(file), 9)
    document = documents.opened(file)
    document.session.apply("first", lambda _: next(edits)[1])
    for _ in range(5):
        expected = document.session.rig
        document.close()
        (found,) = leftovers.leftovers()
        document = documents.recovered(found)
        assert document.session.rig == expected
        assert not isinstance(document.lock, Held)
        document.session.apply("next", lambda _: next(edits)[1])
    document.save()
    document.close()
    assert leftovers.leftovers() == ()
