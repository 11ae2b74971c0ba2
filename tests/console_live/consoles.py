"""Several consoles on one rig without their screens: each a process that does what it is told, or dies in the midst of it.

Dying is at a call of the system, counted, so that no time plays a part. `play` draws what they do and yields what was not
as it must be: two in control at once, or an edit, a tick or the edit lock that was seen and is there no longer.
"""

import contextlib
import json
import os
import random
import signal
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from rackwright.console import control as rules
from rackwright.console import document as documents
from rackwright.console import leftovers
from rackwright.console.document import Document
from rackwright.console.session import Refused
from rackwright.engine import recovery
from rackwright.model import edits
from rackwright.model.edits import EditError
from rackwright.model.rig import Rig
from rackwright.store import rig_file
from rackwright.store.safe import journal
from shipped import preset

FATAL = ("pwrite", "replace", "fsync", "unlink", "ftruncate", "close", "open")
"""Calls before which a console can be made to die."""
MOST = 3
"""Consoles at once."""


class Child:
    """One console."""

    def __init__(self, file: Path, die: int = 0) -> None:
        orders, answers = os.pipe(), os.pipe()
        self.pid = os.fork()
        if not self.pid:
            os.close(orders[1])
            os.close(answers[0])
            _serve(file, orders[0], answers[1])
        os.close(orders[0])
        os.close(answers[1])
        self._orders, self._answers = os.fdopen(orders[1], "w"), os.fdopen(answers[0])
        self.says: dict[str, Any] = {}
        self.alive = True
        self.do("open", die=die)

    def do(self, what: str, die: int = 0, **more: Any) -> bool:
        """Have it do that; whether it lived to tell."""
        try:
            self._orders.write(json.dumps({"what": what, "die": die, **more}) + "\n")
            self._orders.flush()
            line = self._answers.readline()
        except BrokenPipeError:
            line = ""
        if line:
            self.says = json.loads(line)
        if not line or what == "quit":
            self.end()
        return self.alive

    def end(self) -> None:
        """Kill it, unless it is dead."""
        if self.alive:
            self.alive, self.says = False, {}
            os.kill(self.pid, signal.SIGKILL)
            os.waitpid(self.pid, 0)
            for pipe in (self._orders, self._answers):
                with contextlib.suppress(BrokenPipeError):
                    pipe.close()

    @property
    def leads(self) -> bool:
        """Whether it says that it has control."""
        return bool(self.says.get("leads"))


def rig_with_a_list() -> Rig:
    """A rig with a failure and a plan taken for it."""
    rig = recovery.mark(preset("small-room"), ["A1.1"])
    plan = max(recovery.recover(rig).plans, key=lambda each: len(each.moves))
    return recovery.take(rig, ("A1.1",), plan.moves, plan.title, "2026-05-01 21:40")


# --- in the console's process ----------------------------------------------------------------------------


def _serve(file: Path, orders: int, answers: int) -> None:
    rules.SILENCE, rules.PATIENCE = 0.0, 60.0
    document: Document | None = None
    try:
        with os.fdopen(orders) as told, os.fdopen(answers, "w") as out:
            for line in told:
                order = json.loads(line)
                with _dying(order["die"]):
                    document = _do(file, document, order)
                out.write(json.dumps(_state(document)) + "\n")
                out.flush()
    finally:
        os._exit(0)


class _dying:
    """Until it is left, the process ends before that many of the calls; never for 0."""

    def __init__(self, left: int) -> None:
        self.left = left
        self.real: list[tuple[Any, str, Callable[..., Any]]] = []

    def __enter__(self) -> None:
        if self.left:
            places = [(os, name) for name in FATAL] + [(journal, "_sync")]
            self.real = [(where, name, getattr(where, name)) for where, name in places]
            for where, name, call in self.real:
                setattr(where, name, self._counting(call))

    def _counting(self, call: Callable[..., Any]) -> Callable[..., Any]:
        def counted(*words: Any, **more: Any) -> Any:
            self.left -= 1
            if not self.left:
                os.kill(os.getpid(), signal.SIGKILL)
            return call(*words, **more)

        return counted

    def __exit__(self, *_: object) -> None:
        for where, name, call in self.real:
            setattr(where, name, call)


def _do(file: Path, document: Document | None, order: dict[str, Any]) -> Document:
    if document is None:
        left = leftovers.leftover_of(file)
        fresh = left is None or leftovers.no_work(left)
        document = documents.opened(file) if fresh or left is None else documents.recovered(left)
        _look(document)
        return document
    session, control = document.session, document.control
    try:
        match order["what"]:
            case "edit":
                session.apply("note", lambda rig: edits.change_settings(rig, notes=order["text"]))
            case "undo":
                session.undo()
            case "lock" if document.in_control:
                session.lock_edits(not session.edit_locked)
            case "tick":
                session.tick(lambda rig: recovery.tick(rig, rig.lists[0].id, order["step"]))
            case "save" if document.in_control:
                document.save()
            case "quit":
                document.close()
            case "ask" if session.follows:
                control.ask()
            case "insist" if control.asked:
                control.insist()
            case "take" if control.nobody:
                control.take()
            case "give":
                control.give()
            case "refuse":
                control.refuse()
            case "offer" if document.in_control:
                control.offer(True)
    except (Refused, EditError):
        pass
    if order["what"] != "quit":
        _look(document)
    return document


def _look(document: Document) -> None:
    document.follow()
    document.notes.take_reports()
    document.control.look()
    document.follow()
    document.notes.take_reports()


def _state(document: Document) -> dict[str, Any]:
    session = document.session
    return {
        "leads": document.in_control,
        "nobody": document.control.nobody,
        "notes": session.rig.notes,
        "locked": session.edit_locked,
        "ticks": [step.done for step in session.rig.lists[0].steps],
        "undone": session.history.undoes.was().notes if session.history.undoes else session.rig.notes,
    }


# --- what they do ----------------------------------------------------------------------------------------


class _Truth:
    """What may stand in the rig: more than one value where a console died in the midst of changing it."""

    def __init__(self, rig: Rig) -> None:
        steps = rig.lists[0].steps
        self.notes, self.locked, self.ticks = {rig.notes}, {False}, [{step.done} for step in steps]

    def wrong(self, says: dict[str, Any]) -> str:
        """What of the rig that a console in control shows can't be; from now on it is as that shows it."""
        ticks = [done in may for done, may in zip(says["ticks"], self.ticks, strict=True)]
        told = {
            "notes": says["notes"] in self.notes,
            "lock": says["locked"] in self.locked,
            "ticks": all(ticks),
        }
        self.notes, self.locked = {says["notes"]}, {says["locked"]}
        self.ticks = [{done} for done in says["ticks"]]
        return ", ".join(name for name, so in told.items() if not so)


def play(folder: Path, seed: int, steps: int) -> Iterator[str]:
    """Let consoles do so many things; what was found wrong."""
    chance, file = random.Random(seed), folder / "venue.toml"
    rig = rig_with_a_list()
    rig_file.save(rig, file)
    truth, there = _Truth(rig), [Child(file)]
    try:
        for number in range(steps):
            what, who = _act(chance, file, truth, there, number)
            there = [each for each in there if each.alive]
            for each in there:
                each.do("look")
            leads = [each for each in there if each.leads]
            if len(leads) > 1:
                yield f"step {number}, {what}: {len(leads)} consoles in control"
            if leads and (wrong := truth.wrong(leads[0].says)):
                yield f"step {number}, {what} by {who}: {wrong} not as it was seen"
            for each in there:
                each.do("look")
                if leads and (each.says["notes"], each.says["ticks"]) != (
                    leads[0].says["notes"],
                    leads[0].says["ticks"],
                ):
                    yield f"step {number}, {what} by {who}: a console that follows shows another rig"
    finally:
        for each in there:
            each.end()


def _act(
    chance: random.Random, file: Path, truth: _Truth, there: list[Child], number: int
) -> tuple[str, int]:
    """Have one console do one thing, which may end it; what, and which."""
    die = chance.randint(1, 12) if chance.random() < 0.2 else 0
    if not there or (len(there) < MOST and chance.random() < 0.15):
        there.append(Child(file, die))
        return f"open, dying at {die}", len(there)
    who = chance.randrange(len(there))
    child, leader = there[who], next((each for each in there if each.leads), None)
    what = chance.choice(
        ("edit", "edit", "undo", "lock", "tick", "tick", "save", "quit", "die", "ask", "ask", "insist", "take", "take", "give", "give", "refuse", "offer")
    )  # fmt: skip
    if (
        what in ("edit", "undo", "lock", "save", "give", "refuse", "offer")
        and leader is not None
        and chance.random() < 0.8
    ):
        child, who = leader, there.index(leader)
    told = f"{what}, dying at {die}"
    if what == "die":
        child.end()
        return told, who
    text, step = f"note {number}", chance.randrange(len(truth.ticks))
    leads, before = child.leads, dict(child.says)
    lived = child.do(what, die, text=text, step=step)
    if what == "tick":
        flipped = not before["ticks"][step]
        truth.ticks[step] = {flipped} if lived else truth.ticks[step] | {flipped}
    elif what in ("edit", "undo") and before["locked"]:
        pass  # refused
    elif leads and what == "edit":
        truth.notes = {text} if lived else truth.notes | {text}
    elif leads and what == "undo":
        truth.notes = {before["undone"]} if lived else truth.notes | {before["undone"]}
    elif leads and what == "lock":
        truth.locked = {not before["locked"]} if lived else {True, False}
    elif what == "quit" and leads and before["locked"]:
        truth.locked = {True}
    return told, who
