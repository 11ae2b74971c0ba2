"""When something fails mid-show: plans of moves that bring the sound back, and what each failure would cost.

`recover` finds plans for a failure, `rehearse` tries every failure there may be. What a plan says is in `plan`.
"""

from rackwright.engine.recovery.criteria import Criteria
from rackwright.engine.recovery.failure import fail, failed, failed_at, named, repaired, ways, written
from rackwright.engine.recovery.night import (
    Happening,
    baseline,
    by_hand,
    go_back,
    happened,
    hear,
    is_partial,
    is_rewiring,
    keep,
    lists_for,
    mark,
    pending,
    planned,
    put_away,
    repair,
    take,
    tick,
    to_return,
    under_way,
    unplanned,
    with_ticks_of,
)
from rackwright.engine.recovery.plan import DampingChange, LevelLoss, Plan, few, short
from rackwright.engine.recovery.planner import PLANS, Recovery, recover
from rackwright.engine.recovery.rehearsal import Rehearsal, Rehearsed, SpareWorth, rehearse
from rackwright.engine.recovery.rewiring import apply, difference

__all__ = [
    "PLANS",
    "Criteria",
    "DampingChange",
    "Happening",
    "LevelLoss",
    "Plan",
    "Recovery",
    "Rehearsal",
    "Rehearsed",
    "SpareWorth",
    "apply",
    "baseline",
    "by_hand",
    "difference",
    "fail",
    "failed",
    "failed_at",
    "few",
    "go_back",
    "happened",
    "hear",
    "is_partial",
    "is_rewiring",
    "keep",
    "lists_for",
    "mark",
    "named",
    "pending",
    "planned",
    "put_away",
    "recover",
    "rehearse",
    "repair",
    "repaired",
    "short",
    "take",
    "tick",
    "to_return",
    "under_way",
    "unplanned",
    "ways",
    "with_ticks_of",
    "written",
]
