"""What a rig is for one night because something has failed: what failed, what was changed for it, and the lists of steps.

Frozen structs that mirror a rig file key by key. What is done in a night is said by the engine.
"""

import datetime
from typing import Literal, TypeAlias

from msgspec import Struct

from rackwright.model.lines import Cabinet, Line, Spare
from rackwright.model.racks import Feed, Rack

MINUTE = len("2026-05-01 21:40")
"""Characters of a moment to the minute."""


def moment(now: datetime.datetime) -> str:
    """A moment as the night keeps it: to the second, as its log does."""
    return now.strftime("%Y-%m-%d %H:%M:%S")


RewiringKind: TypeAlias = Literal[
    "unplug", "plug in", "amplifier", "circuit", "mode", "line", "plug", "repatch", "feed", "trim", "limiter rms", "limiter peak",
]  # fmt: skip
"""What is done to a cabinet's plug; to an amplifier; to a channel pair; to the line of a cabinet; to a line's near end; to a pole
pair; to a channel; to a feed's limiters."""
StepKind: TypeAlias = Literal[
    "prepare", "check", "mute", "turn down", "switch off", "pull mains", "move", "plug mains", "start", "switch on", "turn up", "unmute",
]  # fmt: skip
"""What is done: a feed's output is muted at the processor, a channel's level turned down at the amplifier; the mains plug is
pulled of an amplifier that is off then, and plugged in and the amplifier started."""


class Rewiring(Struct, frozen=True, kw_only=True, gc=False):
    """One thing that the crew does with its hands."""

    kind: RewiringKind
    at: str
    """The place as it is written: a cabinet, an amplifier, the first channel of a pair, a line, a pole pair, a channel, a feed."""
    old: str = ""
    """From where or what; empty for nothing."""
    new: str = ""
    """To where or what."""
    line: Line | None = None
    """Of a move of the line to a cabinet: what comes; None where it only goes."""
    by: str = ""
    """The spare that it takes."""
    frees: str = ""
    """The spare that it gives back."""


class Step(Struct, frozen=True, kw_only=True, gc=False):
    """A line of a list."""

    kind: StepKind = "move"
    words: str
    """What to do, verb first."""
    where: str = ""
    """Where whoever does it stands, as it is read out."""
    at: tuple[str, ...] = ()
    """The places of the rig that it is done to: feeds, channels, amplifiers, or what is moved."""
    seconds: float = 0.0
    """With the way there."""
    quiet: str = ""
    """What goes silent for it that played, and how long; such a step waits for a gap that is as long."""
    silent: int = 0
    """How many sections that is."""
    silent_for: float = 0.0
    """s, of that which is silent longest; 0 where it stays so until the return."""
    takes: str = ""
    """Which of the crew's times it is made of, by its name in `MoveTimes`; empty where it is of several, or a way is in it."""
    later: bool = False
    """Whether sound comes back without it: it makes safe what has failed."""
    done: bool = False


class NightList(Struct, frozen=True, kw_only=True, gc=False):
    """A plan that was taken, or a return, or an edit by hand for this night, with the steps that are ticked."""

    id: str
    title: str
    failed: tuple[str, ...] = ()
    """What it is for, as it is marked failed; nothing for an edit by hand."""
    repaired: tuple[str, ...] = ()
    """What of that is repaired while the return is still to come."""
    when: str = ""
    """`2026-05-01 21:40:05`, local time; to the minute in what earlier versions took."""
    moves: tuple[Rewiring, ...] | None = None
    """What it changes; None of one that an earlier version took."""
    steps: tuple[Step, ...] = ()
    returns: bool = False
    """Whether it is a return: it is gone once it is ticked off."""

    @property
    def ticked(self) -> int:
        """How many steps are done."""
        return sum(step.done for step in self.steps)

    @property
    def done(self) -> bool:
        """Whether every step is done."""
        return self.ticked == len(self.steps)

    @property
    def following(self) -> int:
        """The first step that is not done, from 0, or the last."""
        return next((i for i, step in enumerate(self.steps) if not step.done), max(len(self.steps) - 1, 0))


class Baseline(Struct, frozen=True, kw_only=True, gc=False):
    """What the night changed of a rig as it was before the first failure: whole tables, each empty where it is as it is now."""

    feeds: tuple[Feed, ...] = ()
    racks: tuple[Rack, ...] = ()
    lines: tuple[Line, ...] = ()
    cabinets: tuple[Cabinet, ...] = ()
    spares: tuple[Spare, ...] = ()


class Failure(Struct, frozen=True, kw_only=True, gc=False):
    """When something was marked failed, and what is known to be good since."""

    what: str
    """As it is marked: `A1.2`, `A1.2=input`, `C1/2`."""
    when: str = ""
    """`2026-05-01 21:40:05`, local time; to the minute in what earlier versions marked."""
    good: tuple[str, ...] = ()
    """Pole pairs of lines, `C1/2`, that read or played as they should since, or were asked for, with all behind them."""
    looked_at: bool = False
    """Whether it was switched off and on, or why it went dead was found, and that brought it not back."""


class Night(Struct, frozen=True, kw_only=True, gc=False):
    """What a rig is for one night because something has failed."""

    baseline: Baseline = Baseline()
    failures: tuple[Failure, ...] = ()
    """What is marked failed, where it is known since when."""
    lists: tuple[NightList, ...] = ()
    """In the order in which they were taken."""
    heard: dict[str, str] = {}
    """Places and tests → what is heard of them and what they showed, until what has failed is marked."""
