"""In which order plugs are moved so that nothing is overloaded on the way, with the state after each step.

Holds no choice of who goes where: that is `arrangement`'s.
"""

from typing import NamedTuple

from rackwright.engine.allocation.gauges import Movable, Places, Task


class Step(NamedTuple):
    """A plug to pull or to put in, and what its circuits carry then."""

    amplifier: str
    source: str
    """The circuit it is unplugged from; empty where it hung on none, or was unplugged before."""
    to: str
    """The circuit it is plugged into; empty where it waits unplugged, to make room."""
    left: float | None
    """Loading of the source at programme afterwards; None where there is none or it is dead."""
    there: float | None
    """Loading of the circuit it goes to."""
    most: float
    """Loading of the most loaded circuit."""


def steps(task: Task, places: Places) -> tuple[Step, ...]:
    """The moves in such an order that nothing is past a limit on the way that is not past it today or in the end.

    Where no move can be made so, an amplifier is unplugged to make room and plugged in later: in the end there is room for
    all. Amplifiers without power come first, then the largest.
    """
    way = _Way(task, places)
    made: list[Step] = []
    to_go = [m for m in task.movables if places[m.id] and places[m.id] != m.home]
    while to_go:
        ready = [m for m in to_go if way.has_room(m)]
        if not ready and (waiting := [m for m in to_go if way.at[m.id]]):
            amplifier, to = max(waiting, key=_first), ""
        else:  # where rounding alone leaves no room, all that is left has it
            amplifier = max(ready or to_go, key=_first)
            to = places[amplifier.id]
            to_go.remove(amplifier)
        source = way.at[amplifier.id]
        way.shift(amplifier, to)
        from_dead = not source and not amplifier.home and amplifier.plugged
        made.append(
            Step(
                amplifier.id,
                source or (amplifier.plugged if from_dead else ""),
                to,
                way.loading(source),
                way.loading(to),
                way.most(),
            )
        )
    return tuple(made)


def _first(movable: Movable) -> tuple[bool, float]:
    return not movable.home, max([draw.programme for draw in movable.draws.values()])


class _Way:
    """Where the amplifiers hang on the way from their homes to their places."""

    def __init__(self, task: Task, places: Places) -> None:
        self.task, self.places, self.at = task, places, dict(task.homes)
        self.now, ends = task.values(task.homes), task.values(places)
        self.caps = [
            max(gauge.limit, today, end) * (1 + 1e-9)
            for gauge, today, end in zip(task.gauges, self.now, ends, strict=True)
        ]
        self.watched: dict[str, list[int]] = {name: [] for name in task.breakers}
        for number, gauge in enumerate(task.gauges):
            for name in gauge.circuits:
                self.watched[name].append(number)
        self.loads = {c: load + task.fixed[c] for c, load in task.sums(task.homes, "programme").items()}

    def has_room(self, movable: Movable) -> bool:
        """Whether its place can take an amplifier now."""
        source, to = self.at[movable.id], self.places[movable.id]
        for number in self.watched[to]:
            gauge = self.task.gauges[number]
            off = (
                gauge.circuits[source] * movable.draws[source].of(gauge.figure)
                if source in gauge.circuits
                else 0.0
            )
            on = gauge.circuits[to] * movable.draws[to].of(gauge.figure)
            if self.now[number] + on - off > self.caps[number]:
                return False
        return True

    def shift(self, movable: Movable, to: str) -> None:
        """Unplug an amplifier, and plug it in there unless that is nowhere."""
        for place, sign in ((self.at[movable.id], -1), (to, 1)):
            if place:
                for number in self.watched[place]:
                    gauge = self.task.gauges[number]
                    self.now[number] += sign * gauge.circuits[place] * movable.draws[place].of(gauge.figure)
                self.loads[place] += sign * movable.draws[place].programme
        self.at[movable.id] = to

    def loading(self, place: str) -> float | None:
        """Of a breaker at programme; None for nowhere."""
        return self.loads[place] / self.task.breakers[place] if place else None

    def most(self) -> float:
        """Loading of the most loaded circuit."""
        return max([load / self.task.breakers[name] for name, load in self.loads.items()])
