"""When something fails mid-show: plans of moves that bring the sound back, and what each failure would cost.

`recover` finds plans for a failure, `stages` rehearses every failure there may be. What a plan says is in `plan`.
"""

from rackwright.engine.recovery.criteria import Criteria
from rackwright.engine.recovery.every_failure import FailingKind, Rehearsed, by_rack
from rackwright.engine.recovery.failure import (
    baseline,
    fail,
    failed,
    failed_at,
    in_words,
    named,
    repaired,
    ways,
    written,
)
from rackwright.engine.recovery.list_answers import is_the_load, loads_asked, plays_again
from rackwright.engine.recovery.night import (
    by_hand,
    hear,
    is_rewiring,
    keep,
    mark,
    put_away,
    repair,
    take,
    tick,
    with_ticks_of,
)
from rackwright.engine.recovery.night_events import Happening, happened, reports, with_report
from rackwright.engine.recovery.night_state import (
    begun,
    is_partial,
    left_silent,
    lists_for,
    open_before,
    pending,
    planned,
    silent_for,
    stood_in_for,
    to_plan_for,
    to_return,
    under_way,
    unplanned,
)
from rackwright.engine.recovery.plan import (
    DampingChange,
    LevelLoss,
    Plan,
    Proposal,
    in_short,
    short,
)
from rackwright.engine.recovery.planner import UNSEARCHED, Recovery, in_turn, recover
from rackwright.engine.recovery.preparation import Help, advised
from rackwright.engine.recovery.rehearsal import Rehearsal, stages
from rackwright.engine.recovery.return_plan import go_back, silenced_by_return
from rackwright.engine.recovery.rewiring import apply, difference
from rackwright.engine.recovery.switching import switching, with_switching
from rackwright.engine.recovery.times_taken import TimeTaken, keep_times, times_taken
from rackwright.engine.recovery.wording import as_called, gap

__all__ = [
    "UNSEARCHED",
    "Criteria",
    "DampingChange",
    "FailingKind",
    "Happening",
    "Help",
    "LevelLoss",
    "Plan",
    "Proposal",
    "Recovery",
    "Rehearsal",
    "Rehearsed",
    "TimeTaken",
    "advised",
    "apply",
    "as_called",
    "baseline",
    "begun",
    "by_hand",
    "by_rack",
    "difference",
    "fail",
    "failed",
    "failed_at",
    "gap",
    "go_back",
    "happened",
    "hear",
    "in_short",
    "in_turn",
    "in_words",
    "is_partial",
    "is_rewiring",
    "is_the_load",
    "keep",
    "keep_times",
    "left_silent",
    "lists_for",
    "loads_asked",
    "mark",
    "named",
    "open_before",
    "pending",
    "planned",
    "plays_again",
    "put_away",
    "recover",
    "repair",
    "repaired",
    "reports",
    "short",
    "silenced_by_return",
    "silent_for",
    "stages",
    "stood_in_for",
    "switching",
    "take",
    "tick",
    "times_taken",
    "to_plan_for",
    "to_return",
    "under_way",
    "unplanned",
    "ways",
    "with_report",
    "with_switching",
    "with_ticks_of",
    "written",
]
