"""What steps of the night really took, against the times of the design: offered to be kept as the crew's times.

A time is taken from one tick to the next in the same list. Reads no log and keeps nothing by itself.
"""

from collections import defaultdict
from collections.abc import Iterable
from statistics import median
from typing import NamedTuple

from msgspec.structs import replace

from rackwright.model import edits
from rackwright.model.fields import fields
from rackwright.model.rig import MoveTimes, Rig
from rackwright.units import Duration

FEWEST = 3
"""Times that are taken before one is offered; how far the middle one is from the one of the design; how much shorter or longer one
may be to count at all: what is ticked in one go, or after a break, says nothing. Common practice, no source."""
APART, SHORTEST, LONGEST = 0.25, 0.4, 8.0
NOTED = 1.0
"""s to which a tick is noted: times that differ by no more may be the same."""


class TimeTaken(NamedTuple):
    """What steps of one kind took."""

    name: str
    """Of the crew's time, as in `MoveTimes`."""
    number: int
    taken: float
    """s, the median, to 5 s; to 1 s where it is under 10."""
    planned: float

    @property
    def words(self) -> str:
        """In a sentence."""
        label = next(field.label for field in fields(MoveTimes) if field.name == self.name)
        return f"{label}: took {self.taken:g} s, median of {self.number}; planned {self.planned:g} s."


def times_taken(times: MoveTimes, taken: Iterable[tuple[str, float]]) -> tuple[TimeTaken, ...]:
    """What differs from the crew's times among times taken, each by its name in `MoveTimes` and in s."""
    of: dict[str, list[float]] = defaultdict(list)
    for name, seconds in taken:
        planned = getattr(times, name, None)
        if planned is not None and SHORTEST <= seconds / planned.value <= LONGEST:
            of[name].append(seconds)
    found = []
    for name, each in of.items():
        planned, middle = getattr(times, name).value, median(each)
        step = 5.0 if middle >= 10 else 1.0
        middle = max(step, step * round(middle / step))
        apart = abs(middle - planned)
        if len(each) >= FEWEST and apart > NOTED and apart / planned > APART:
            found.append(TimeTaken(name, len(each), middle, planned))
    return tuple(found)


def keep_times(rig: Rig, taken: Iterable[TimeTaken]) -> Rig:
    """The rig with those as the crew's times, for good."""
    kept = {each.name: Duration.parse(f"{each.taken:g} s") for each in taken}
    times = replace(rig.targets.times, **kept)
    return edits.change_settings(rig, targets=replace(rig.targets, times=times)) if kept else rig
