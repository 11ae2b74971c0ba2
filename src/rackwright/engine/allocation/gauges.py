"""Every limit on the mains as a sum over the amplifiers on some circuits: what an arrangement of them is judged by.

Taken from an assessment, whose figures and limits are those that the findings judge by. Holds what may hang where and how
grave each limit is; which arrangement is best is found by `arrangement`.
"""

from collections.abc import Mapping
from typing import Literal, NamedTuple, TypeAlias, get_args

from rackwright.engine import limits
from rackwright.engine.demand import SUPPLY
from rackwright.engine.finding import Severity, graver

Figure: TypeAlias = Literal["programme", "heavy", "inrush", "known_inrush", "leakage", "power", "heavy_power"]
"""Amperes at each duty, of inrush, of what of that is not assumed, and to earth; watts at each duty."""
Places: TypeAlias = Mapping[str, str]
"""Amplifier → its circuit; empty where it has no power."""
Levels: TypeAlias = dict[tuple[str, str], Severity]
"""How grave what is found is, by place and what it is about."""
Criterion: TypeAlias = Literal[
    "unplaced", "over", "new_warnings", "near", "heavy", "generator", "leakage", "drop", "voltage", "uneven", "inrush", "drop_heavy",
    "new_notes", "moves", "worst", "imbalance",
]  # fmt: skip

EQUAL = 1e-6
"""Two figures closer than this are the same."""


class Worth(NamedTuple):
    """What an arrangement is judged by, less being better, in this order.

    Each circuit counts by how far it is past its limit, so that none hides behind a worse one. What would be found that
    is not found today comes before everything that is not graver.
    """

    unplaced: float = 0.0
    """Amplifiers without power, for want of a circuit that may carry them."""
    over: float = 0.0
    """Past what is a stop, over the breaker or the generator's rating."""
    new_warnings: float = 0.0
    """How many are found that are not found today, or are less grave."""
    near: float = 0.0
    """Past what is comfortable, over the breaker."""
    heavy: float = 0.0
    """Driven hard, past the breaker."""
    generator: float = 0.0
    """Past what is comfortable, or driven hard past its rating."""
    leakage: float = 0.0
    """To earth, over what an RCD should carry standing."""
    drop: float = 0.0
    """% that supply cables take past what is accepted."""
    voltage: float = 0.0
    """% that a generator's voltage and the drop leave under what equipment must work with, driven hard."""
    uneven: float = 0.0
    """Imbalance of the phases past what is accepted."""
    inrush: float = 0.0
    """A, past where the breaker may trip at once."""
    drop_heavy: float = 0.0
    new_notes: float = 0.0
    moves: float = 0.0
    worst: float = 0.0
    """Largest programme current over its breaker."""
    imbalance: float = 0.0

    def better(self, other: "Worth") -> bool:
        """Whether it beats another, what is as close as EQUAL being the same."""
        for mine, theirs in zip(self, other, strict=True):
            if abs(mine - theirs) > EQUAL * (1 + abs(theirs)):
                return mine < theirs
        return False


CRITERIA: tuple[Criterion, ...] = Worth._fields  # type: ignore[assignment]


class Draw(NamedTuple):
    """What an amplifier takes of a circuit."""

    programme: float
    heavy: float
    inrush: float
    known_inrush: float
    leakage: float
    power: float
    heavy_power: float

    def of(self, figure: Figure) -> float:
        """One of the figures by its name."""
        return float(getattr(self, figure))


class Movable(NamedTuple):
    """An amplifier, where it hangs, and what it would take where it may hang."""

    id: str
    home: str
    """Its circuit; empty where it has no power."""
    plugged: str
    """The circuit that it is plugged into, dead or not; empty where there is none."""
    draws: Mapping[str, Draw]
    """By circuit: those with power within its reach that take its mains voltage, its home always."""


class Gauge(NamedTuple):
    """One limit on the sum that hangs on some circuits."""

    place: str
    family: str
    """What the findings at that place are about: of one family the gravest is told."""
    severity: Severity
    """Of being past it."""
    criterion: Criterion | None
    """What it counts to by how far it is past; None where only how grave it is matters."""
    figure: Figure
    circuits: Mapping[str, float]
    """With what factor the amperes on each count."""
    rest: float
    """What hangs there that no arrangement moves."""
    limit: float
    scale: float
    """What an excess is counted over."""


class Task(NamedTuple):
    """Amplifiers to arrange, and what judges the arrangement."""

    movables: tuple[Movable, ...]
    gauges: tuple[Gauge, ...]
    breakers: Mapping[str, float]
    """Live circuit → A."""
    sites: Mapping[str, tuple[str, str]]
    """Live circuit → its board and its phases."""
    fixed: Mapping[str, float]
    """Live circuit → A at programme that no arrangement moves."""
    phases: tuple[tuple[str, frozenset[str]], ...]
    """Each phase that has to be even with the others, with its circuits; none on a single one."""
    uneven: Severity
    """How grave uneven phases are."""

    @property
    def homes(self) -> dict[str, str]:
        """Where everything hangs today."""
        return {movable.id: movable.home for movable in self.movables}

    def sums(self, places: Places, figure: Figure) -> dict[str, float]:
        """A of the movable amplifiers on each live circuit."""
        sums = dict.fromkeys(self.breakers, 0.0)
        for movable in self.movables:
            if at := places[movable.id]:
                sums[at] += movable.draws[at].of(figure)
        return sums

    def values(self, places: Places) -> list[float]:
        """What each gauge shows."""
        sums = {figure: self.sums(places, figure) for figure in get_args(Figure)}
        return [
            gauge.rest + sum([factor * sums[gauge.figure][c] for c, factor in gauge.circuits.items()])
            for gauge in self.gauges
        ]

    def levels(self, places: Places) -> Levels:
        """How grave what is found is, by place and family; nothing where all is within."""
        found: dict[tuple[str, str], Severity] = {}
        for gauge, value in zip(self.gauges, self.values(places), strict=True):
            key = gauge.place, gauge.family
            if value > gauge.limit * (1 + 1e-9) and (key not in found or graver(gauge.severity, found[key])):
                found[key] = gauge.severity
        if self.unevenness(places)[0] > 0:
            found[SUPPLY, "phases"] = self.uneven
        used = {at for at in places.values() if at}
        return found | {(c, "empty"): "note" for c in self.breakers if c not in used and not self.fixed[c]}

    def accepted(self, mean: float) -> float:
        """A by which a phase may deviate from that mean."""
        return limits.imbalance(mean, max(self.breakers.values())).value * mean if mean > 0 else 0.0

    def unevenness(self, places: Places) -> tuple[float, float]:
        """The imbalance of the phases past what is accepted, and the imbalance."""
        loads = self.sums(places, "programme")
        each = [sum([loads[c] + self.fixed[c] for c in circuits]) for _, circuits in self.phases]
        mean = sum(each) / len(each) if each else 0.0
        if mean <= 0:
            return 0.0, 0.0
        deviation = max([abs(phase - mean) for phase in each])
        past = deviation - self.accepted(mean)
        return past / mean if past > 1e-9 * mean else 0.0, deviation / mean

    def worth(self, places: Places) -> Worth:
        """What an arrangement is worth."""
        excess: dict[tuple[str, Criterion], float] = {}
        for gauge, value in zip(self.gauges, self.values(places), strict=True):
            if gauge.criterion:
                key = gauge.place, gauge.criterion
                excess[key] = max((value - gauge.limit) / gauge.scale, excess.get(key, 0.0))
        sums: dict[Criterion, float] = dict.fromkeys(CRITERIA, 0.0)
        for (_, criterion), past in excess.items():
            sums[criterion] += past
        today, levels = self.levels(self.homes), self.levels(places)
        new = [level for key, level in levels.items() if key not in today or graver(level, today[key])]
        sums["new_warnings"], sums["new_notes"] = new.count("warn"), new.count("note")
        loads = self.sums(places, "programme")
        sums["worst"] = max([(loads[c] + self.fixed[c]) / breaker for c, breaker in self.breakers.items()])
        sums["uneven"], sums["imbalance"] = self.unevenness(places)
        sums["moves"] = sum([places[name] != home for name, home in self.homes.items()])
        sums["unplaced"] = sum([not at for at in places.values()])
        return Worth(**sums)
