"""What every part of the programme shares: its columns, and which moves of the crew each stands for. Holds no rule."""

from collections import defaultdict
from collections.abc import Collection, Hashable, Iterable, Mapping
from typing import NamedTuple, TypeAlias, TypeVar

from rackwright.engine.allocation.program import Program
from rackwright.engine.channel import Output
from rackwright.engine.recovery.task import Task
from rackwright.model.night import Rewiring
from rackwright.model.racks import Mode

Pair: TypeAlias = tuple[int, int, int]
"""Bundle, variant, pole pair."""


Key = TypeVar("Key")


class Setting(NamedTuple):
    """How a channel pair may be set."""

    model: str
    mode: Mode
    output: Output
    usable: tuple[bool, ...]
    """By channel of the pair: whether it gives sound where its amplifier has power."""


class Use(NamedTuple):
    """A pole pair on a channel."""

    column: int
    sounds: int
    """The column that says whether it sounds; the same where that is sure."""
    pair: Pair
    channel: str
    moved: bool


class Columns:
    """The columns of one task's programme."""

    def __init__(self, task: Task, wide: bool) -> None:
        self.task, self.index, self.wide = task, task.index, wide
        self.program = Program(task.between, small=not wide)
        self.none, self.one = self.program.column(0, 0), self.program.column(1, 1)
        self.moves: dict[int, tuple[Rewiring, ...]] = {}
        """Column → what the crew does where it is 1."""
        self._of: dict[int, Hashable] = {}
        """Column → what its moves are of."""
        self.taken: dict[str, list[int]] = defaultdict(list)
        """Spare → the columns that take one of it."""

    def add(self, *moves: Rewiring, of: Hashable = None) -> int:
        """A column that stands for moves; for nothing to be done where there are none. `of` those of one thing one at most is 1."""
        column = self.program.column()
        if moves:
            self.moves[column] = moves
            self._of[column] = of or (moves[-1].kind, moves[-1].at)
        return column

    def one_of(self, options: Mapping[Key, tuple[Rewiring, ...]]) -> dict[Key, int]:
        """The columns of what can be done, of which one is 1; where there is no choice and nothing is done that is so."""
        if list(options.values()) == [()]:
            return dict.fromkeys(options, self.one)
        columns = {key: self.add(*moves) for key, moves in options.items()}
        self.program.row([(c, 1.0) for c in columns.values()], 1, 1)
        return columns

    def apart(
        self, columns: Iterable[int], known: Mapping[int, Hashable] = {}
    ) -> Collection[Collection[int]]:
        """Columns in groups of which one at most is 1: a pole pair is patched, a line plugged, a feed given once; or as is `known`."""
        found: dict[Hashable, dict[int, None]] = defaultdict(dict)
        for column in columns:
            found[known.get(column) or self._of.get(column, column)][column] = None
        return [list(group) for group in found.values()]

    def spares(self) -> None:
        """No more spares in use than there are."""
        for spare in self.index.rig.spares:
            if taken := self.taken.get(spare.id):
                self.program.row([(c, 1.0) for c in taken], high=spare.count)
