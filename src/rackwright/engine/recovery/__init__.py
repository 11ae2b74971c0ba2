"""When something fails mid-show: plans of moves that bring the sound back, and what each failure would cost.

`recover` finds plans for a failure, `rehearse` tries every failure there may be. What a plan says is in `plan`.
"""

from rackwright.engine.recovery.failing import fail, failed, sound
from rackwright.engine.recovery.moves import Move, apply
from rackwright.engine.recovery.plan import DampingChange, LevelLoss, LimiterSetting, Plan, Step
from rackwright.engine.recovery.recover import Recovery, recover
from rackwright.engine.recovery.rehearse import Rehearsal, Rehearsed, SpareWorth, rehearse
from rackwright.engine.recovery.standing import Rank

__all__ = [
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
    "Step",
    "apply",
    "fail",
    "failed",
    "recover",
    "rehearse",
    "sound",
]
