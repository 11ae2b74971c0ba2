"""The supply cable of each circuit and board: what it carries, whether its breaker protects it, what a fault draws.

Holds the checks for cables whose class, laying or own rating is stated; of any other nothing is asked. What to do about
one that fails is said by `findings.supply_cables`.
"""

from collections.abc import Mapping
from functools import cached_property

from msgspec import Struct
from msgspec.structs import replace

from rackwright.engine.demand import BoardResult, CircuitResult
from rackwright.engine.finding import Severity
from rackwright.engine.mains.breaker import Curve, Rules, band
from rackwright.engine.mains.cable_capacity import Capacity, Laying, Loaded, capacity, conductor_temperature
from rackwright.engine.mains.fault_current import FaultCurrent, Loop, at_far_end, loop, severity
from rackwright.model.index import Index
from rackwright.model.mains import Board, Circuit, Supply, SupplyCable
from rackwright.units import ConductorSize

SIZES = ("1.5 mm2", "2.5 mm2", "4 mm2", "6 mm2", "10 mm2", "16 mm2", "25 mm2", "35 mm2")
US_SIZES = ("14 AWG", "12 AWG", "10 AWG", "8 AWG", "6 AWG", "4 AWG", "2 AWG", "1 AWG")
"""Those that a thicker cable is looked for among."""


class Cable(Struct, frozen=True, dict=True):
    """A supply cable between the breaker at its near end and what hangs on its far end."""

    id: str
    """Of the circuit or board."""
    cable: SupplyCable
    loaded: Loaded
    breaker: float | None
    """A, at its near end; None where it is not stated."""
    curve: Curve
    supply: Supply
    current: float
    """A at programme, of the most loaded phase."""
    way: tuple[SupplyCable, ...]
    """The supply cables from the intake up to where it begins."""
    rcd: float | None
    """A, of the most sensitive RCD before it."""

    @property
    def rules(self) -> Rules:
        """Those of the supply."""
        return self.supply.rules

    @property
    def laying(self) -> Laying:
        """How it is made and laid."""
        return laying_of(self.cable)

    @cached_property
    def capacity(self) -> Capacity:
        """What it carries."""
        own = self.cable.max_current
        air = self.supply.ambient.value
        return capacity(
            self.cable.size, self.laying, self.loaded, air, self.rules, own.value if own else None
        )

    @cached_property
    def fault(self) -> FaultCurrent:
        """What flows when it is shorted at its far end."""
        source = self.supply.source_impedance
        loops = map(loop_of, (*self.way, self.cable))
        return at_far_end(self.supply.voltage.value, source.value if source else None, loops)

    @property
    def carries(self) -> float | None:
        """A as it is laid, by the lowest table that applies; None outside them."""
        return self.capacity.lowest if self.capacity.ratings else None

    @property
    def fault_current(self) -> float:
        """A, to earth at its far end; at best where no source impedance is stated."""
        return self.fault.earth

    @property
    def band(self) -> tuple[float, float] | None:
        """A, up to which its breaker does not trip at once, and from which it is sure to; None where that is not known."""
        return band(self.breaker, self.curve, self.rules) if self.breaker is not None else None

    def holds(self, more: float) -> bool:
        """Whether it may be given so much more (A): every check passes, and on a drum it carries that too."""
        on_drum = self.capacity.drum and self.capacity.ratings
        return not self.barred and not (on_drum and self.current + more > self.capacity.lowest)

    @cached_property
    def protection(self) -> Severity | None:
        """How grave it is that its breaker lets through more than it carries; None where it does not, or nothing is known.

        On a drum it is a stop where what flows at programme is more than it carries there.
        """
        if self.breaker is None or not self.capacity.ratings:
            return None
        found = self.capacity.protected_by(self.breaker, self.current)
        return None if found == "yes" else "stop" if found == "no" else "warn"

    @cached_property
    def fault_severity(self) -> Severity | None:
        """How grave it is that a fault at its far end may not trip its breaker at once."""
        if self.breaker is None:
            return None
        return severity(self.fault.earth, self.breaker, self.curve, self.rules, self.rcd)

    @property
    def barred(self) -> bool:
        """Whether nothing more may be put on it."""
        return "stop" in (self.protection, self.fault_severity)

    def thicker(self) -> ConductorSize | None:
        """The smallest size that passes every check here in its place; None where none does."""
        for size in map(ConductorSize.parse, US_SIZES if self.rules == "us" else SIZES):
            if size.value <= self.cable.size.value:
                continue
            other = replace(self, cable=replace(self.cable, size=size, max_current=None, earth=None))
            if other.capacity.ratings and not other.protection and not other.fault_severity:
                return size
        return None


def laying_of(cable: SupplyCable) -> Laying:
    """How a cable is made and laid, as far as it is stated."""
    return Laying(cable.conductor_class, cable.laid, cable.grouped, cable.layers)


def loop_of(cable: SupplyCable) -> Loop:
    """Its conductors, as warm as its class allows.

    Resistances as of `fault_current.loop` [1]_.

    >>> round(loop_of(circuit.supply_cable).line, 3)
    0.254

    .. [1] IEC 60228, class 5; IEC 60028.
    """
    return loop(cable.size, cable.earth, cable.length.value, conductor_temperature(laying_of(cable)))


def of_rig(
    index: Index,
    circuits: Mapping[str, CircuitResult],
    boards: Mapping[str, BoardResult],
    earlier: Mapping[str, Cable] | None = None,
    before: Index | None = None,
) -> dict[str, Cable]:
    """Circuit or board → its supply cable, where something of it is stated that a check can be made by.

    `earlier` are those of the rig `before`, which has the same supply, and the same boards on the same phases: a cable of
    a circuit or a board that is the same object at most carries something else.
    """
    kept = earlier if earlier and before else {}
    found: dict[str, Cable] = {}
    nodes: tuple[Board | Circuit, ...] = (*index.rig.boards, *index.rig.circuits)
    for node in nodes:
        was = kept.get(node.id)
        if was and before and node is (before.circuits.get(node.id) or before.boards.get(node.id)):
            current = _current(node.id, circuits, boards)
            found[node.id] = was if was.current == current else replace(was, current=current)
            continue
        cable = node.supply_cable
        if cable is None or not (cable.conductor_class or cable.laid or cable.max_current):
            continue
        above = index.boards_above(node)
        device = node.rating if isinstance(node, Board) else node.breaker
        rcds = [each.rcd.value for each in (node, *above) if each.rcd]
        found[node.id] = Cable(
            id=node.id,
            cable=cable,
            loaded=_loaded(index, node),
            breaker=device.value if device else None,
            curve=node.curve,
            supply=index.rig.supply,
            current=_current(node.id, circuits, boards),
            way=tuple([board.supply_cable for board in reversed(above) if board.supply_cable]),
            rcd=min(rcds, default=None),
        )
    return found


def _loaded(index: Index, node: Circuit | Board) -> Loaded:
    """Three where more than one phase of three comes with a neutral; on split phase the neutral carries what is left over."""
    phases = len(index.phases_at(node))
    line_to_line = isinstance(node, Circuit) and phases == 2
    return 3 if phases == 3 or (phases == 2 and not line_to_line and index.rig.supply.phases != 2) else 2


def _current(name: str, circuits: Mapping[str, CircuitResult], boards: Mapping[str, BoardResult]) -> float:
    """A at programme of the most loaded phase; of a board at most, as if all currents of a phase were in step."""
    if circuit := circuits.get(name):
        return circuit.programme_current
    board = boards[name]
    below = [circuits[each] for each in board.circuits]
    carried = [sum([c.programme_current for c in below if phase in c.phases]) for phase in board.phases]
    return max(carried, default=0.0)


def barred(index: Index, cables: Mapping[str, Cable]) -> frozenset[str]:
    """The circuits that no advice, arrangement or plan may put anything on: a cable on the way fails a check."""
    failing = {name for name, cable in cables.items() if cable.barred}
    if not failing:
        return frozenset()
    return frozenset(
        c.id for c in index.rig.circuits if failing & {c.id, *(board.id for board in index.boards_above(c))}
    )
