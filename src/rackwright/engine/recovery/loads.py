"""What hangs on the sockets of the racks concerned, and what else it could be: unplugged, linked on, with another line.

Every such variant is wired as a rig and read by the same network that assesses one, so that its figures are those of the
assessment. Holds no channel and no choice.
"""

import copy
from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence, Set
from typing import NamedTuple

from msgspec.structs import replace

from rackwright.engine import network, outage
from rackwright.engine.recovery.task import Task
from rackwright.model.index import Index
from rackwright.model.lines import Line, Spare
from rackwright.model.night import Rewiring


class Load(NamedTuple):
    """What a pole pair of a bundle drives."""

    sections: tuple[str, ...]
    conductance: float
    """S, of the sections in parallel without cable."""
    admittance: float
    """S, seen at the terminals, cable included."""
    transfers: tuple[float, ...]
    """Each section's voltage over the terminals'."""
    shorted: bool
    """Whether it has to come off its channel before that may sound: a section is shorted, or of two linked ones one would play what it
    may not, or with its polarity changed."""


class Variant(NamedTuple):
    """A way in which a bundle may hang there."""

    moves: tuple[Rewiring, ...]
    """What makes it so."""
    loads: tuple[Load | None, ...]
    """By pole pair of the socket; None where nothing is on it."""
    linked: str = ""
    """The cabinet of another bundle that it takes in."""
    left: str = ""
    """The cabinet of this bundle that goes to another."""
    movable: bool = False
    """Whether its line may be plugged into another socket."""


class Bundle(NamedTuple):
    """All that hangs on one socket."""

    socket: str
    lines: tuple[Line, ...]
    variants: tuple[Variant, ...]
    """As it is first."""

    @property
    def loads(self) -> Iterator[Load]:
        """What may hang there, in one variant or another: of a line that has failed nothing hangs there as it is."""
        return (load for variant in self.variants for load in variant.loads if load)


def bundles(task: Task, racks: Sequence[str], kept: Collection[str] = ()) -> tuple[Bundle, ...]:
    """The bundles of those racks, in the order of the rig; sections that are `kept` are not unplugged."""
    index = task.index
    homes = [name for rack in racks for s in index.racks[rack].sockets if index.lines_from.get(name := s.id)]
    links = list(_links(task, homes))
    found = []
    for home in homes:
        lines = tuple(index.lines_from[home])
        variants = [Variant((), hanging(index, home), movable=len(lines) == 1)]
        hung = {n for load in variants[0].loads if load for n in load.sections}
        variants += _unplugged(task, home, {task.broken.sections[n].cabinet for n in hung.intersection(kept)})
        variants += _renewed(task, home)
        variants += [variant for at, variant in links if at == home]
        left = dict.fromkeys(v.linked for _, v in links if v.linked and index.root(v.linked) == home)
        variants += [_left(task, home, name) for name in left]
        found.append(Bundle(home, lines, tuple(variants)))
    return tuple(found)


def scope(task: Task) -> tuple[str, ...]:
    """The racks where something is lost, or that a cable is known to reach from such a rack."""
    index = task.index
    racks: dict[str, None] = {}
    for name in task.weights:
        section = task.broken.sections[name]
        changed = section.channel is None or abs((section.gain or 0.0) - task.gains[name]) > 1e-6
        if changed and (root := index.root(section.cabinet)):
            racks[index.rack_of[root].id] = None
            for other in _known_near(index, section.cabinet):
                if at := index.root(other):
                    racks[index.rack_of[at].id] = None
    return tuple(name for name in index.racks if name in racks)


def hanging(index: Index, socket: str) -> tuple[Load | None, ...]:
    """By pole pair what a socket drives in a rig."""
    count = max(
        len(index.sockets[socket].poles), index.connector_models[index.sockets[socket].connector].pole_pairs
    )
    return tuple([_load(index, socket, pair) for pair in range(count)])


def _load(index: Index, socket: str, pair: int) -> Load | None:
    signs: dict[tuple[str, str], int] = {}
    runs = network.runs_from(index, socket, pair, signs, 1)
    if not signs:
        return None
    nodes = tuple([run.node for run in runs])
    solved = network.solve_nominal(nodes)
    names = [
        (run.line.to, section.id) for root in runs for run in root.all_runs() for section in run.node.sections
    ]
    return Load(
        tuple([f"{cabinet}.{section}" for cabinet, section in names]),
        sum([network.conductance(section) for section in network.sections_of(nodes)]),
        solved.admittance,
        solved.transfers,
        any(outage.fault(index.cabinets[cabinet], section) == "shorted" for cabinet, section in names),
    )


def _varied(index: Index, home: str, move: Rewiring) -> tuple[Load | None, ...]:
    """What hangs on a socket once a cabinet is unplugged, or has another line: in an index of its own, for this is done often."""
    after = copy.copy(index)
    if move.kind == "unplug":
        after.cabinets = {**index.cabinets, move.at: replace(index.cabinets[move.at], muted=True)}
    else:
        old = index.line_to[move.at]
        after.lines = {name: line for name, line in index.lines.items() if name != old.id}
        after.line_to = {name: line for name, line in index.line_to.items() if name != move.at}
        after.__dict__.pop("_root_lines", None)
        after.lines_from = defaultdict(list, index.lines_from)
        after.lines_from[old.source] = [line for line in index.lines_from[old.source] if line.id != old.id]
        if new := move.line:
            after.lines[new.id] = after.line_to[move.at] = new
            after.lines_from[new.source] = [*after.lines_from[new.source], new]
    return hanging(after, home)


def behind(index: Index, cabinet: str) -> list[str]:
    """A cabinet and all that hangs on its link."""
    return [cabinet, *(name for line in index.lines_from.get(cabinet, ()) for name in behind(index, line.to))]


def _in_reach(index: Index, *cabinets: str) -> bool:
    return all(index.cabinets[name].access == "ground" for name in cabinets)


def _unplugged(task: Task, home: str, kept: Set[str]) -> Iterator[Variant]:
    """One of its cabinets unplugged: the first at the rack, another at its neighbour, where hands get there; none that are `kept`."""
    index = task.index
    for line in index.lines_from[home]:
        for name in behind(index, line.to):
            own = index.line_to[name]
            linked = own.source != home
            if kept and not kept.isdisjoint(behind(index, name)):
                continue
            if index.cabinets[name].muted or (linked and not _in_reach(index, name, own.source)):
                continue
            move = Rewiring(kind="unplug", at=name, old=own.source, new="")
            yield Variant((move,), _varied(index, home, move))


def _cables(index: Index, old: Line) -> list[Spare]:
    """The spare lines that have the plugs for where a line goes: as many cores as it has, or one for each pole there.

    Which plugs are on a spare is not stated: with fewer or more cores they are taken to be others.
    """
    fitting = index.cable_models[old.cable].cores, 2 * index.cabinet_connector(old.to).pole_pairs
    return [
        spare
        for spare in index.rig.spares
        if spare.cable and spare.count and spare.length and index.cable_models[spare.cable].cores in fitting
    ]


def _line_move(task: Task, cabinet: str, source: str, spare: Spare) -> Rewiring:
    old = task.index.line_to[cabinet]
    assert spare.length is not None
    name = f"{old.id}-SPARE"
    while name in task.index.lines:
        name += "'"
    line = Line(id=name, source=source, to=cabinet, cable=spare.cable, length=spare.length)
    return Rewiring(kind="line", at=cabinet, old=old.source, new=source, line=line, by=spare.id)


def _renewed(task: Task, home: str) -> Iterator[Variant]:
    """A spare in place of a line that has failed, as long as that or longer."""
    index = task.index
    for line in _lines_behind(index, home):
        if line.state == "ok" and not line.failed_pairs:
            continue
        ends = [name for name in (line.source, line.to) if name in index.cabinets]
        if not _in_reach(index, *ends) or index.cabinets[line.to].muted:
            continue
        for spare in _cables(index, line):
            if spare.length and spare.length.value >= line.length.value:
                move = _line_move(task, line.to, line.source, spare)
                if any(loads := _varied(index, home, move)):
                    alone = line.source == home and len(index.lines_from[home]) == 1
                    yield Variant((move,), loads, movable=alone)


def _lines_behind(index: Index, place: str) -> Iterator[Line]:
    for line in index.lines_from.get(place, ()):
        yield line
        yield from _lines_behind(index, line.to)


def _known_near(index: Index, cabinet: str) -> list[str]:
    """The cabinets that a cable from a cabinet is known to reach, or that are known to reach it."""
    own = index.cabinets[cabinet].links_to
    return [name for name, other in index.cabinets.items() if name in own or cabinet in other.links_to]


def _links(task: Task, homes: Sequence[str]) -> Iterator[tuple[str, Variant]]:
    """The home and the variant of each link of a cabinet that has lost something to one that plays its feeds."""
    index = task.index
    lost = dict.fromkeys(task.broken.sections[name].cabinet for name in task.just_lost)
    for cabinet in lost:
        if index.cabinets[cabinet].muted or cabinet not in index.line_to or not _in_reach(index, cabinet):
            continue
        cables = _cables(index, index.line_to[cabinet])
        below, own = behind(index, cabinet), index.root(cabinet)
        for neighbour in _neighbours(task, cabinet, homes) if cables else ():
            if neighbour in below or index.lines_from.get(neighbour) or not _in_reach(index, neighbour):
                continue
            for spare in cables:
                move = _line_move(task, cabinet, neighbour, spare)
                home = index.root(neighbour) or ""
                loads = tuple(
                    [
                        load and load._replace(shorted=load.shorted or not _may_sound(task, load))
                        for load in _varied(index, home, move)
                    ]
                )
                if any(load and not load.shorted for load in loads):
                    alone = len(index.lines_from[home]) == 1
                    yield home, Variant((move,), loads, linked="" if home == own else cabinet, movable=alone)


def _neighbours(task: Task, cabinet: str, homes: Sequence[str]) -> list[str]:
    """Whose link a cable may come from: as stated, or where nothing is stated any whose line starts at the same rack."""
    index = task.index
    near, root = _known_near(index, cabinet), index.root(cabinet)
    stated = index.cabinets[cabinet].links_to
    at_hand = root is not None and not _worth_linking(task, cabinet)
    found = []
    for name, other in index.cabinets.items():
        at = index.root(name)
        if name == cabinet or at not in homes or other.muted:
            continue
        same = root is not None and at is not None and index.rack_of[root] is index.rack_of[at]
        unknown = same and not stated and not other.links_to
        if same and at_hand:
            continue
        if (name in near or unknown) and index.cabinet_connector(name) is index.cabinet_connector(cabinet):
            found.append(name)
    return found


def _worth_linking(task: Task, cabinet: str) -> bool:
    """Whether a link does what re-patching at the rack does not: the way there has failed, or has many pole pairs.

    To any other it would bring no more than the loss in its cable, and later.
    """
    index = task.index
    silent = [s for s in task.just_lost if task.broken.sections[s].cabinet == cabinet]
    cut = any(task.broken.sections[name].patched is None for name in silent)
    return cut or len(silent) * float(index.rig.targets.times.repatch.value) > float(
        index.rig.targets.times.new_line.value
    )


def _may_sound(task: Task, load: Load) -> bool:
    """Whether what comes to hang on a pole pair may play one feed, with one polarity."""
    names = [name for name in load.sections if name in task.feeds]
    own = {task.feeds[name] for name in names}
    if len(own) > 1:
        return any(all(task.may_play(name, feed) for name in names) for feed in task.index.feeds)
    return len({task.before.sections[name].polarity for name in names}) <= 1


def _left(task: Task, home: str, cabinet: str) -> Variant:
    """The bundle without a cabinet that goes to another."""
    move = Rewiring(kind="line", at=cabinet, old=task.index.line_to[cabinet].source, new="")
    return Variant((), _varied(task.index, home, move), left=cabinet)
