"""A small rig of invented equipment that breaks no rule, and a way to change any place in it."""

from typing import Any, TypeVar

from hypothesis import HealthCheck, settings
from msgspec import Struct
from msgspec.structs import replace

from rackwright.model.equipment import (
    AmplifierModel,
    CableModel,
    ConnectorModel,
    DampingRating,
    Driver,
    Equipment,
    LoudspeakerModel,
    Rating,
    Section,
)
from rackwright.model.rig import (
    Amplifier,
    Cabinet,
    Channel,
    Circuit,
    Feed,
    Line,
    Rack,
    Rig,
    Socket,
    SupplyCable,
)
from rackwright.units import (
    ConductorSize,
    Current,
    Frequency,
    Impedance,
    Inductance,
    Length,
    Level,
    Mass,
    Power,
    Resistance,
    Voltage,
)

T = TypeVar("T")

sparing = settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
"""For properties of whole rigs, which take long to draw."""

DUO = AmplifierModel(
    id="duo",
    name="Two channels (demo)",
    channels=2,
    height=2,
    ratings=(
        Rating(load=Impedance.parse("8 ohm"), power=Power.parse("1100 W")),
        Rating(load=Impedance.parse("4 ohm"), power=Power.parse("1800 W")),
    ),
    damping_factor=DampingRating(value=400, load=Impedance.parse("8 ohm")),
    gain=Level.parse("32 dB"),
    idle_power=Power.parse("60 W"),
    efficiency=0.8,
    power_factor=0.62,
    inrush=Current.parse("45 A"),
    terminals="exposed",
    max_current=Current.parse("40 A"),
    weight=Mass.parse("14 kg"),
)
QUAD = replace(DUO, id="quad", name="Four channels (demo)", channels=4, height=1)
TRIO = replace(DUO, id="trio", name="Three channels (demo)", channels=3, height=1)
UPPER = Section(
    id="upper",
    kind="low",
    nominal=Impedance.parse("8 ohm"),
    dc_resistance=Resistance.parse("5.4 ohm"),
    continuous=Power.parse("800 W"),
    lowest=Frequency.parse("28 Hz"),
    highest=Frequency.parse("200 Hz"),
    driver=Driver(
        fs=Frequency.parse("34 Hz"),
        qms=6.5,
        qes=0.38,
        le=Inductance.parse("1.4 mH"),
        box="vented",
        alpha=1.1,
        fb=Frequency.parse("36 Hz"),
    ),
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
FLEX = CableModel(
    id="flex-4",
    cores=4,
    size=ConductorSize.parse("2.5 mm2"),
    max_current=Current.parse("25 A"),
    name="(demo)",
)
THIN = replace(FLEX, id="flex-2", cores=2, size=ConductorSize.parse("16 AWG"))
FOUR = ConnectorModel(
    id="four",
    pole_pairs=2,
    contact_resistance=Resistance.parse("2 mohm"),
    max_current=Current.parse("30 A"),
    shrouded=True,
)
TWO = replace(FOUR, id="two", pole_pairs=1)
EQUIPMENT = Equipment(
    amplifiers=(DUO, QUAD, TRIO), loudspeakers=(SUB, WEDGE), cables=(FLEX, THIN), connectors=(FOUR, TWO)
)

RIG = Rig(
    name="Harbour shed",
    circuits=(
        Circuit(
            id="P1",
            breaker=Current.parse("16 A"),
            supply_cable=SupplyCable(length=Length.parse("30 m"), size=ConductorSize.parse("2.5 mm2")),
        ),
        Circuit(id="P2", breaker=Current.parse("16 A"), phase="L2"),
    ),
    feeds=(
        Feed(id="sub", band=(Frequency.parse("32 Hz"), Frequency.parse("90 Hz"))),
        Feed(id="full", limiter_rms=Voltage.parse("60 V")),
    ),
    racks=(
        Rack(
            id="R1",
            name="Stage left",
            height=6,
            amplifiers=(
                Amplifier(
                    id="A1",
                    model="duo",
                    unit=1,
                    circuit="P1",
                    channels=(Channel(feed="sub"), Channel(feed="sub", state="failed")),
                ),
                Amplifier(id="A2", model="duo", unit=3, circuit="P1", channels=(Channel(feed="full"),)),
            ),
            sockets=(
                Socket(id="R1-1", connector="four", poles=("A1.1", "-A1.2")),
                Socket(id="R1-2", connector="four", poles=("A2.1",)),
            ),
        ),
        Rack(
            id="R2",
            name="Stage right",
            height=4,
            amplifiers=(Amplifier(id="A3", model="quad", unit=4, circuit="P2"),),
            sockets=(Socket(id="R2-1", connector="two", poles=("A1.1",)),),
        ),
    ),
    lines=(
        Line(id="L1", source="R1-1", to="SUB-L1", cable="flex-4", length=Length.parse("20 m")),
        Line(id="L2", source="SUB-L1", to="SUB-L2", cable="flex-4", length=Length.parse("3 m")),
        Line(id="L3", source="R1-2", to="W1", cable="flex-2", length=Length.parse("80 ft")),
    ),
    cabinets=(
        Cabinet(id="SUB-L1", model="sub-double", wiring="split", position="stage left, ground"),
        Cabinet(id="SUB-L2", model="sub-double"),
        Cabinet(id="W1", model="wedge", priority=2),
        Cabinet(id="W2", model="wedge", priority=2),
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
    tables = (rig.circuits, rig.feeds, rig.racks, rig.amplifiers(), rig.sockets(), rig.lines, rig.cabinets)
    return {item.id: item for table in tables for item in table}
