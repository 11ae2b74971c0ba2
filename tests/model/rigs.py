"""A small rig of invented equipment that breaks no rule, and a way to change any place in it."""

from typing import Any, TypeVar

from msgspec import Struct
from msgspec.structs import replace

import rigs
from rackwright.model.equipment import Equipment, LoudspeakerModel
from rackwright.model.racks import Amplifier, Feed, Rack
from rackwright.model.rig import Rig
from rackwright.units import Frequency, LimiterSetting
from rigs import amplifier, cabinet, cable, circuit, connector, feed, line, section, socket

T = TypeVar("T")

"""For properties of whole rigs, which take long to draw."""

DUO = replace(rigs.DUO, name="Two channels (demo)", ratings=rigs.DUO.ratings[:2], terminals="exposed")
QUAD = replace(DUO, id="quad", name="Four channels (demo)", channels=4, height=1)
TRIO = replace(DUO, id="trio", name="Three channels (demo)", channels=3, height=1)
UPPER = section(
    "upper", "low", "8 ohm", "800 W", "28 Hz", highest=Frequency.parse("200 Hz"), driver=rigs.VENTED
)
SUB = LoudspeakerModel(
    id="sub-double",
    name="Double sub (demo)",
    connector="four",
    sections=(UPPER, replace(UPPER, id="lower")),
    wirings={"split": (("upper",), ("lower",)), "joined": (("upper", "lower"),)},
)
WEDGE = LoudspeakerModel(
    id="wedge",
    name="Wedge (demo)",
    connector="two",
    sections=(replace(UPPER, id="whole", kind="full", highest=None, driver=None),),
    wirings={"whole": (("whole",),)},
)
FLEX, THIN = (
    replace(cable(*made), name="(demo)") for made in (("flex-4", 4, "2.5 mm2"), ("flex-2", 2, "16 AWG"))
)
FOUR, TWO = connector("four", 2), connector("two", 1)
EQUIPMENT = Equipment(
    amplifiers=(DUO, QUAD, TRIO), loudspeakers=(SUB, WEDGE), cables=(FLEX, THIN), connectors=(FOUR, TWO)
)

RIG = Rig(
    name="Harbour shed",
    circuits=(circuit("P1", feed=("30 m", "2.5 mm2")), circuit("P2", phase="L2")),
    feeds=(feed("sub", "32 Hz", "90 Hz"), Feed(id="full", limiter_rms=LimiterSetting.parse("60 V"))),
    racks=(
        Rack(
            id="R1",
            name="Stage left",
            height=6,
            amplifiers=(amplifier("A1", "sub", "sub", failed=(2,)), amplifier("A2", "full", unit=3)),
            sockets=(socket("R1-1", "A1.1", "-A1.2"), socket("R1-2", "A2.1")),
        ),
        Rack(
            id="R2",
            name="Stage right",
            height=4,
            amplifiers=(Amplifier(id="A3", model="quad", unit=4, circuit="P2"),),
            sockets=(socket("R2-1", "A1.1", connector="two"),),
        ),
    ),
    lines=(
        line("L1", "R1-1", "SUB-L1", "20 m", "flex-4"),
        line("L2", "SUB-L1", "SUB-L2", "3 m", "flex-4"),
        line("L3", "R1-2", "W1", "80 ft", "flex-2"),
    ),
    cabinets=(
        cabinet("SUB-L1", "sub-double", "split", position="stage left, ground"),
        cabinet("SUB-L2", "sub-double"),
        cabinet("W1", "wedge", priority=2),
        cabinet("W2", "wedge", priority=2),
    ),
    equipment=EQUIPMENT,
)


def put(at: T, path: tuple[str | int, ...], value: Any) -> T:
    """`at` with the value in the place that the path of keys and positions leads to."""
    if not path:
        return value
    step, *rest = path
    if isinstance(at, Struct):
        name = "source" if step == "from" else str(step)
        return replace(at, **{name: put(getattr(at, name), tuple(rest), value)})
    if isinstance(at, dict):
        return at | {step: put(at.get(step), tuple(rest), value)}
    return (*at[:step], put(at[step], tuple(rest), value), *at[step + 1 :])


def things(rig: Rig) -> dict[str, Any]:
    """Every thing of a rig by id."""
    tables = (
        *(rig.boards, rig.circuits, rig.loads, rig.feeds, rig.racks, rig.amplifiers(), rig.sockets()),
        *(rig.lines, rig.cabinets),
    )
    return {item.id: item for table in tables for item in table}
