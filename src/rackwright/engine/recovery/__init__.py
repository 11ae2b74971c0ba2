"""When something fails mid-show: plans of moves that bring the sound back, and what each failure would cost.

`recover` finds plans for a failure, `rehearse` tries every failure there may be. What a plan says is in `plan`.
"""

from rackwright.engine.recovery.failure import fail, failed, failed_at, named, repaired
from rackwright.engine.recovery.limiter_settings import LimiterSetting
from rackwright.engine.recovery.lists import go_back, lists_for, planned, put_away, take, tick, unplanned
from rackwright.engine.recovery.moves import Move, apply
from rackwright.engine.recovery.plan import DampingChange, LevelLoss, Plan, few
from rackwright.engine.recovery.planner import PLANS, Recovery, recover
from rackwright.engine.recovery.rehearsal import Rehearsal, Rehearsed, SpareWorth, rehearse
from rackwright.engine.recovery.state import Rank

__all__ = [
    "PLANS",
    "DampingChange",
    "LevelLoss",
    "LimiterSetting",
    "Move",
    "Plan",
    "Rank",
    "Recovery",
    "Rehearsal",
    "Rehearsed",
    "SpareWorth",
    "apply",
    "fail",
    "failed",
    "failed_at",
    "few",
    "go_back",
    "lists_for",
    "named",
    "planned",
    "put_away",
    "recover",
    "rehearse",
    "repaired",
    "take",
    "tick",
    "unplanned",
]
