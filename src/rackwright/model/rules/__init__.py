"""The rules that make a rig whole: ids that are unique, references that lead somewhere, wiring that is a tree.

`check` lists every breach with the path to it and what to do. A rig that breaks none can be assessed. What
is merely unwise, or wrong in an electrical way, is not a breach but a finding, and the engine's to say.
"""

from rackwright.model.rules.equipment import check_equipment
from rackwright.model.rules.problem import Path, Problem, absent, missing
from rackwright.model.rules.rig import check, check_baseline, check_readings, check_stock
from rackwright.model.rules.wiring import check_lines

__all__ = [
    "Path",
    "Problem",
    "absent",
    "check",
    "check_baseline",
    "check_equipment",
    "check_lines",
    "check_readings",
    "check_stock",
    "missing",
]
