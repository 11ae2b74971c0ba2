"""Every judgement the engine makes, as small functions in one registry. Importing this fills it."""

from rackwright.engine.findings import (
    assumed,
    channel,
    current,
    gain,
    limiters,
    meter_check,
    names,
    power,
    rig,
    supply_cables,
    touch,
    tree,
)
from rackwright.engine.findings.assumed import said_on
from rackwright.engine.findings.current import past_ratings
from rackwright.engine.findings.limiters import over_power
from rackwright.engine.findings.names import named
from rackwright.engine.findings.registry import (
    Named,
    Played,
    Survey,
    feeds_played,
    gravest_first,
    misfed,
    of_branch,
    of_rig,
)

__all__ = [
    "Named",
    "Played",
    "Survey",
    "assumed",
    "channel",
    "current",
    "feeds_played",
    "gain",
    "gravest_first",
    "limiters",
    "meter_check",
    "misfed",
    "named",
    "names",
    "of_branch",
    "of_rig",
    "over_power",
    "past_ratings",
    "power",
    "rig",
    "said_on",
    "supply_cables",
    "touch",
    "tree",
]
