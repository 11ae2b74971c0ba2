"""A crew that answers truly: a fault is made in a rig, and what is heard and tested of it is read from its full assessment.

Shares nothing with the table of causes but the names of faults and of outcomes.
"""

import random
from collections.abc import Iterator

from msgspec.structs import replace

from rackwright.engine.assess import Assessed, assess
from rackwright.engine.diagnosis import Check, Table, diagnose
from rackwright.engine.recovery import fail
from rackwright.model.mains import phases_of
from rackwright.model.rig import Rig

ONWARD = {"line", "cabinet", "section"}


def every_fault(rig: Rig) -> Iterator[str]:
    """Every single fault there may be, written out from the rig itself."""
    yield from {phase for circuit in rig.circuits for phase in phases_of(circuit.phase)} - {
        line.id for line in rig.lines
    }
    yield from (
        thing.id for thing in (*rig.boards, *rig.circuits, *rig.feeds, *rig.racks, *rig.lines, *rig.cabinets)
    )
    channels = {model.id: model.channels for model in rig.equipment.amplifiers}
    for amplifier in rig.amplifiers():
        yield amplifier.id
        for number in range(1, channels[amplifier.model] + 1):
            yield from (f"{amplifier.id}.{number}", f"{amplifier.id}.{number}=input")
    pairs = {model.id: model.pole_pairs for model in rig.equipment.connectors}
    for socket in rig.sockets():
        yield from (socket.id, *(f"{socket.id}/{n}" for n in range(1, pairs[socket.connector] + 1)))
    cores = {model.id: model.cores for model in rig.equipment.cables}
    for line in rig.lines:
        yield from (f"{line.id}/{n}" for n in range(1, cores[line.cable] // (2 * line.cores_per_pole) + 1))
    sections = {model.id: model.sections for model in rig.equipment.loudspeakers}
    for cabinet in rig.cabinets:
        for section in sections[cabinet.model]:
            yield from (f"{cabinet.id}.{section.id}{how}" for how in ("", "=shorted", "=distorted"))


class Crew:
    """Those who hear and test a rig with faults in it.

    With `soft`, quiet or humming or distorted, power and signal are there: the faults change only what is heard of what
    they would else silence, as a contact does that is bad and not yet open.
    """

    def __init__(self, before: Assessed, faults: list[str], dice: random.Random, soft: str = "") -> None:
        self.before, self.faults, self.dice, self.soft = before, faults, dice, soft
        self.rig = fail(before.index.rig, faults)
        self.after = assess(self.rig)
        self.shrugs: dict[str, str] = {}
        """What may show either way, once it was seen."""

    def hears(self, section: str) -> str:
        found = heard(self.after, section)
        return found if found == "plays" else self.soft or found

    def answers_all(self) -> dict[str, str]:
        return {name: self.hears(name) for name, s in self.before.sections.items() if s.channel}

    def shows(self, check: Check) -> str:
        """What a test shows."""
        if check.kind == "listen":
            return self._of(check.place)
        if check.kind == "lights":
            return self._lights(self.after, check.place)
        if check.kind == "unplug":
            line = next(line for line in self.rig.lines if line.id == check.place)
            cabinets = tuple(replace(c, muted=c.muted or c.id == line.to) for c in self.rig.cabinets)
            socket = next(socket for socket in self.rig.sockets() if socket.id == line.source)
            pulled = assess(replace(self.rig, cabinets=cabinets))
            lights = {self._lights(pulled, pole.lstrip("-")) for pole in socket.poles if pole}
            return "protect" if "protect" in lights else "clear"
        if check.kind == "swap":
            return self._swapped(check)
        return self._measured(check.place)

    def _of(self, place: str) -> str:
        before, index = self.before, self.before.index
        names = [
            name
            for name, s in before.sections.items()
            if s.channel and place in (name, s.cabinet, before.channels[s.channel].feed)
        ]
        assert names, (place, index.rig.name)
        states = {self.hears(name) for name in names}
        if len(states) == 1:
            return states.pop()
        return next((word for word in ("distorted", "humming") if word in states), "quiet")

    def _lights(self, after: Assessed, channel: str) -> str:
        result = after.channels[channel]
        outage = result.outage
        if outage is None:
            return "signal"
        if self.soft:
            return "protect" if outage.what == "shorted" else "signal"
        rig = after.index.rig
        if outage.at in {*rig.supply.failed_phases, *(mains.id for mains in (*rig.boards, *rig.circuits))}:
            return "dark"
        if outage.at in {rack.id for rack in rig.racks}:
            return "dark"
        if outage.what == "shorted":
            return "protect"
        if outage.what == "input failed" or outage.at in {feed.id for feed in rig.feeds}:
            return "no signal"
        either = ("dark", "protect") if outage.at == result.amplifier else ("protect", "signal")
        return self.shrugs.setdefault(outage.at, self.dice.choice(either))

    def _patched(self, faults: list[str]) -> set[str]:
        """The sections that hang on a channel with those faults alone."""
        return {n for n, s in assess(fail(self.before.index.rig, faults)).sections.items() if s.patched}

    def _swapped(self, check: Check) -> str:
        one = check.place
        other = check.words.split(f" {one} and ")[1].split(",")[0]
        there = {one: other, other: one}
        lines = tuple(replace(line, source=there.get(line.source, line.source)) for line in self.rig.lines)
        after = assess(replace(self.rig, lines=lines))
        wrong = [
            any(
                heard(after, name) != "plays"
                for name, s in self.before.sections.items()
                if s.channel and self.before.index.root(s.cabinet) == socket
            )
            for socket in (one, other)
        ]
        return {
            (True, True): "both",
            (True, False): "stays",
            (False, True): "moves",
            (False, False): "neither",
        }[wrong[0], wrong[1]]

    def _measured(self, place: str) -> str:
        """From the section's pole pair of the cabinet, or from that pole pair of a line on."""
        index = self.before.index
        if place in index.sections:
            cabinet = index.sections[place].cabinet
            on_it = {
                name
                for name, s in self.before.sections.items()
                if s.cabinet == cabinet and s.patched == self.before.sections[place].patched
            }
            bad = {n for n in self.faults if n.partition("=")[0] in {*on_it, cabinet}}
        else:
            line = place.rpartition("/")[0]
            others = [n for n in every_fault(index.rig) if n.startswith(f"{line}/") and n != place]
            alone = self._patched([*others])
            on_it = alone - self._patched([*others, place])
            bad = {n for n in self.faults if n.partition("=")[0] in on_it}
            for name in self.faults:
                found = index.place(name)
                if found is not None and found.kind in ("line", "line pair", "cabinet"):
                    bad |= {name} if on_it - self._patched([*others, name]) else set()
        if any(name.endswith("=shorted") for name in bad):
            return "short"
        return "open" if any(not name.endswith("=distorted") for name in bad) else "expected"


def heard(after: Assessed, section: str) -> str:
    result = after.sections[section]
    if result.channel is None:
        return "silent"
    cabinet = after.index.cabinets[result.cabinet]
    return "distorted" if cabinet.faults.get(result.section) == "distorted" else "plays"


def followed(table: Table, crew: Crew, answers: dict[str, str]) -> list[str]:
    """What goes wrong on the way from some answers through every next test to the last."""
    found: dict[str, str] = {}
    wrong = []
    for _ in range(40):
        told = diagnose(table, answers, found)  # type: ignore[arg-type]
        names = {suspect.names for suspect in told.suspects}
        if not any({*crew.faults} == {*each} for each in names):
            wrong.append(f"{crew.faults} not among {len(names)} causes after {answers} {found}")
            break
        test = told.next_test
        if test is None:
            break
        outcome = crew.shows(test.check)
        left = next((split.names for split in test.splits if split.outcome == outcome), ())
        if " and ".join(crew.faults) not in left and " and ".join(reversed(crew.faults)) not in left:
            wrong.append(f"{crew.faults}: {test.check.id} shows {outcome}, predicted without it")
            break
        if test.check.kind == "listen":
            answers = answers | {test.check.place: outcome}
        else:
            found = found | {test.check.id: outcome}
    else:
        wrong.append(f"{crew.faults}: no end of tests")
    return wrong
