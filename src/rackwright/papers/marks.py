"""The words for what is wrong or unusual at a place, the same on every sheet that names it: STOP, FAILED, CROSSED, SPLIT.

A finding is known by one place; whoever plugs, labels, sets or switches meets it at another. So a stop is told at every
channel, line, amplifier and circuit that it touches. Judges nothing: what is a stop, the assessment says.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Sequence
from typing import Literal, TypeAlias

from rackwright.engine import outage
from rackwright.engine.assess import Assessed
from rackwright.engine.demand import DRAWN, SUPPLY
from rackwright.engine.finding import Finding
from rackwright.engine.outage import Outage
from rackwright.model.assumed import said
from rackwright.model.index import Index
from rackwright.model.lines import Cabinet, Line
from rackwright.model.places import LinePair, PolePair
from rackwright.papers.document import Words
from rackwright.units import percent
from rackwright.units.text_table import NO_BREAK

Place: TypeAlias = tuple[Literal["channel", "line", "amplifier", "circuit", "board", "supply"], str]


ON_MAINS = (*DRAWN, "inrush")
"""What an amplifier's figures on the mains rest on."""
_WARNED = {
    "inrush-over-band": "may trip all at once",
    "feed-drop": "drop too high",
}
"""Codes whose words are no clearer on paper."""
_FOUND = {"wrong": "WRONG IN THE METER CHECK", "not proved": "NOT PROVED"}
"""Of a pole pair, what the meter check leaves to do."""


def warning(finding: Finding, guard: str) -> str:
    """What a warning is called at its place; past all of a rating at programme is a stop, so a warning of that is of driven hard."""
    if finding.code.endswith("-near-limit") and finding.limit is not None:
        return f"over {percent(finding.limit.value)} %{' driven hard' if finding.limit.value >= 1 else ''}"
    if finding.code == "rcd-leakage":
        return f"{guard} may trip"
    return _WARNED.get(finding.code, finding.code.replace("-", " "))


class Marks:
    """What an assessment has to say at each place of its rig."""

    def __init__(self, assessment: Assessed) -> None:
        self._assessment = assessment
        stops: dict[Place, dict[str, None]] = defaultdict(dict)
        for finding in assessment.findings:
            if finding.severity == "stop":
                for place in _touched(assessment, finding.at):
                    stops[place][finding.code.replace("-", " ")] = None
        self._warned: dict[str, dict[str, None]] = defaultdict(dict)
        guard = assessment.index.rig.supply.guard
        for finding in assessment.findings:
            if finding.severity == "warn" and not finding.code.endswith("heavy-overload"):
                self._warned[finding.at][warning(finding, guard)] = None
        self._failed = {each.at: each.what.upper() for each in outage.marked(assessment.index.rig)}
        self._stops = {place: (f"STOP: {', '.join(codes)}",) for place, codes in stops.items()}

    def own(self, name: str) -> tuple[str, ...]:
        """How the thing at a place has failed: `FAILED`, of a section `OPEN`; nothing where it works."""
        return (self._failed[name],) if name in self._failed else ()

    def channel(self, name: str) -> tuple[str, ...]:
        """Of a channel: `FAILED`, `P2 FAILED` where it is without power, its stops."""
        return (*self.state(name), *self._stops.get(("channel", name), ()))

    def amplifier(self, name: str) -> tuple[str, ...]:
        """Of an amplifier: `FAILED`, the stops of its channels and of its circuit."""
        return (*self.own(name), *self._stops.get(("amplifier", name), ()))

    def circuit(self, name: str) -> tuple[str, ...]:
        """Of a circuit: `FAILED`, its stops, and how far it is over its breaker."""
        circuit = self._assessment.circuits.get(name)
        if circuit is None:
            return ()
        over = (
            (f"{percent(circuit.loading)} % OF ITS BREAKER",)
            if circuit.loading > 1
            else (f"{percent(circuit.loading_heavy)} % DRIVEN HARD",)
            if circuit.loading_heavy > 1
            else ()
        )
        return (
            *self._dead(outage.at(self._assessment.index, name), name),
            *self._stops.get(("circuit", name), ()),
            *over,
        )

    def warnings(self, name: str) -> tuple[str, ...]:
        """What the mains sheet warns of at a circuit, a board or SUPPLY: `over 80 %`; what `circuit` says already left out."""
        return tuple(self._warned.get(name, ()))

    def drawn(self, name: str) -> tuple[str, ...]:
        """Of an amplifier on the mains: `ASSUMED` where what it draws is, then the same as anywhere."""
        index = self._assessment.index
        assumed = index.amplifier_models[index.amplifiers[name].model].assumed
        return (*(("ASSUMED",) if {*ON_MAINS} & {*assumed} else ()), *self.amplifier(name))

    def board(self, name: str) -> tuple[str, ...]:
        """Of a board: `FAILED`, its stops."""
        dead = self._dead(outage.at(self._assessment.index, name), name)
        return (*dead, *self._stops.get(("board", name), ()))

    def supply(self) -> tuple[str, ...]:
        """The phases that are dead, and the stops of the supply as a whole."""
        dead = (f"{phase} FAILED" for phase in self._assessment.index.rig.supply.failed_phases)
        return (*dead, *self._stops.get(("supply", SUPPLY), ()))

    def line(self, line: Line) -> tuple[str, ...]:
        """Of a line: what its cable, its adaptor and its near end are, what the meter found, then its stops."""
        return (*flags(self._assessment.index, line), *self.found(line), *self.stops(line))

    def found(self, line: Line) -> tuple[str, ...]:
        """What the meter check found of a line's pole pairs: `PAIRS 1, 3 NOT PROVED`, `PAIR 2 WRONG IN THE METER CHECK`."""
        pairs: dict[str, list[int]] = {}
        for item in self._assessment.wrong_readings:
            if item.test.line == line.id and item.status in _FOUND:
                pairs.setdefault(_FOUND[item.status], []).append(item.test.pair)
        return tuple(f"{_pairs(numbers)} {found}" for found, numbers in pairs.items())

    def stops(self, line: Line) -> tuple[str, ...]:
        """The stops that touch a line."""
        return self._stops.get(("line", line.id), ())

    def state(self, name: str) -> tuple[str, ...]:
        """Why nothing comes out of a channel that is wired: `FAILED`, `P2 FAILED`."""
        branch = self._assessment.branches.get(name)
        return () if branch is None else self.own(name) or self._dead(branch.result.outage, name)

    def cabinet(self, name: str) -> tuple[str, ...]:
        """Of a cabinet: `FAILED`, `high OPEN`."""
        cabinet = self._assessment.index.cabinets[name]
        faults = (f"{section} {fault.upper()}" for section, fault in cabinet.faults.items())
        return (*self.own(name), *faults)

    def standing(self, cabinet: Cabinet) -> tuple[str, ...]:
        """Of a cabinet where it is looked for, not where it is plugged: `MUTED`, then the same."""
        return (*(("MUTED",) if cabinet.muted else ()), *self.cabinet(cabinet.id))

    @staticmethod
    def _dead(dead: Outage | None, name: str) -> tuple[str, ...]:
        """What has failed, named where it is another thing than that."""
        if dead is None:
            return ()
        return (dead.what.upper() if dead.at == name else f"{dead.at} {dead.what.upper()}",)


def assumed_words(assessment: Assessed, names: Collection[str] = ()) -> Iterator[Words]:
    """Which figures of amplifiers are assumed, a sentence for all that are in use; only those figures, where any are named."""
    index = assessment.index
    models = [index.amplifier_models[name] for name in dict.fromkeys(a.model for a in index.rig.amplifiers())]
    told = [f"{model.id}: {figures}" for model in models if (figures := said(model, names))]
    if told:
        yield Words(f"ASSUMED, read off no data sheet: {'; '.join(told)}.", True)


def _pairs(numbers: Sequence[int]) -> str:
    """Pole pairs by their numbers, not parted at the end of a line."""
    return f"PAIR{'S' if len(numbers) > 1 else ''} {', '.join(map(str, numbers))}".replace(" ", NO_BREAK)


def flags(index: Index, line: Line) -> tuple[str, ...]:
    """What tells a line from a plain one: `2 CORES a pole`, `CROSSED: 1 from 2, 2 from 1`, `SPLIT at R1-1`."""
    crossed = [(far + 1, near + 1) for far, near in enumerate(index.pole_map(line)) if far != near]
    told = ["FAILED"] if line.state == "failed" else []
    told += [f"{_pairs(line.failed_pairs)} FAILED"] if line.failed_pairs else []
    if line.cores_per_pole > 1:
        told.append(f"{line.cores_per_pole} CORES a pole")
    if crossed:
        told.append(f"CROSSED: {', '.join(f'{far}{NO_BREAK}from{NO_BREAK}{near}' for far, near in crossed)}")
    if len(index.lines_from.get(line.source, ())) > 1:
        told.append(f"SPLIT at {line.source}")
    return tuple(told)


def marked(name: str, marks: Iterable[str]) -> str:
    """`A1 FAILED, STOP: load below minimum`; the name alone where there is no mark."""
    told = ", ".join(marks)
    return f"{name} {told}" if told else name


def _touched(assessment: Assessed, at: str) -> set[Place]:
    """The places that a finding at `at` concerns."""
    index = assessment.index
    if isinstance(place := index.place(at), PolePair | LinePair):
        at = place.thing
    if at in index.racks:
        return {("amplifier", amplifier.id) for amplifier in index.racks[at].amplifiers}
    if at in index.feeds:
        return _of_channels(assessment, (b.id for b in assessment.branches.values() if b.result.feed == at))
    if at in assessment.branches:
        reached: set[Place] = {("line", run.line.id) for run in assessment.branches[at].all_runs}
        return _of_channels(assessment, (at,)) | reached
    if at in assessment.sections:
        section = assessment.sections[at]
        lines = set(_up_from(index, section.cabinet))
        return _of_channels(assessment, filter(None, (section.patched,))) | lines
    if at in index.cabinets:
        lines = set(_up_from(index, at))
        first = index.line_to.get(at)
        return lines | (_of_channels(assessment, _on(assessment, first)) if first else set())
    if at in index.lines:
        return _of_channels(assessment, _on(assessment, index.lines[at])) | {("line", at)}
    if at in index.sockets:
        leaving: set[Place] = {("line", line.id) for line in index.lines_from.get(at, ())}
        return leaving | _of_channels(assessment, index.channels_at(at))
    if at in index.amplifiers:
        return {("amplifier", at)}
    if at in index.circuits:
        hung: set[Place] = {("amplifier", a.id) for a in index.amplifiers.values() if a.circuit == at}
        return hung | {("circuit", at)}
    if at in index.loads:
        return {("circuit", index.loads[at].circuit)}
    if at in index.boards:
        return {("board", at), *(("circuit", circuit) for circuit in assessment.boards[at].circuits)}
    return {("supply", SUPPLY)} if at == SUPPLY else set()


def _of_channels(assessment: Assessed, names: Iterable[str]) -> set[Place]:
    """Channels and the amplifiers that they are of."""
    found: set[Place] = set()
    for name in names:
        found |= {("channel", name), ("amplifier", assessment.branches[name].amplifier.id)}
    return found


def _on(assessment: Assessed, line: Line) -> set[str]:
    """The channels that reach a line."""
    return {
        branch.id
        for branch in assessment.branches.values()
        for run in branch.all_runs
        if run.line.id == line.id
    }


def _up_from(index: Index, cabinet: str) -> Iterator[Place]:
    """The lines between a cabinet and its socket."""
    while line := index.line_to.get(cabinet):
        yield ("line", line.id)
        cabinet = line.source
