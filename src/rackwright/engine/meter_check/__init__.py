"""The meter check: what a meter should show on each pole pair of a line, and which faults explain what it does show.

Only single faults are thought of.
"""

from rackwright.engine.meter_check.faults import LIKELIEST
from rackwright.engine.meter_check.judging import Judgement, judge
from rackwright.engine.meter_check.kept_readings import Checked, checked, clean, progress, wrong_readings
from rackwright.engine.meter_check.meter import OPEN, OhmRange, PairTest, pair_tests
from rackwright.engine.meter_check.sweep_judging import SweepJudgement, judge_sweep, modulus

__all__ = [
    "LIKELIEST",
    "OPEN",
    "Checked",
    "Judgement",
    "OhmRange",
    "PairTest",
    "SweepJudgement",
    "checked",
    "clean",
    "judge",
    "judge_sweep",
    "modulus",
    "pair_tests",
    "progress",
    "wrong_readings",
]
