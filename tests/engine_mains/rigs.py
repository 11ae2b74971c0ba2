"""Small rigs of invented equipment for the tests of mains and touch: amplifiers on circuits, each with its loudspeakers.

Cables and connectors are as good as ideal, so that a channel's power is its rating's by sight. Holds no
expected figure.
"""

from typing import Any

from msgspec.structs import replace

from rackwright.model.equipment import (
    AmplifierModel,
    CableModel,
    ConnectorModel,
    DampingRating,
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
    Phase,
    Rack,
    Rig,
    Socket,
    Supply,
    SupplyCable,
)
from rackwright.units import (
    ConductorSize,
    Current,
    Frequency,
    Impedance,
    Length,
    Level,
    Mass,
    Power,
    Resistance,
    Voltage,
)


def rating(load: str, power: str) -> Rating:
    return Rating(load=Impedance.parse(load), power=Power.parse(power))


KILO = AmplifierModel(
    id="kilo",
    channels=2,
    height=2,
    ratings=(rating("8 ohm", "1000 W"),),
    damping_factor=DampingRating(value=400, load=Impedance.parse("8 ohm")),
    gain=Level.parse("32 dB"),
    idle_power=Power.parse("60 W"),
    efficiency=0.8,
    power_factor=0.65,
    inrush=Current.parse("45 A"),
    terminals="shrouded",
    max_current=Current.parse("40 A"),
    weight=Mass.parse("14 kg"),
)
"""1000 W a channel into 8 Ω, without power-factor correction."""

CORRECTED = replace(KILO, id="corrected", power_factor=0.98)
SMALL = replace(KILO, id="small", ratings=(rating("8 ohm", "200 W"),), inrush=Current.parse("20 A"))

BOX = LoudspeakerModel(
    id="box",
    connector="plug",
    sections=(
        Section(
            id="cone",
            kind="low",
            nominal=Impedance.parse("8 ohm"),
            dc_resistance=Resistance.parse("5.4 ohm"),
            continuous=Power.parse("1000 W"),
            lowest=Frequency.parse("30 Hz"),
        ),
    ),
    wirings={"first": (("cone",),)},
)
CABLE = CableModel(
    id="stout", cores=2, size=ConductorSize.parse("35 mm2"), max_current=Current.parse("200 A")
)
PLUG = ConnectorModel(
    id="plug",
    pole_pairs=1,
    contact_resistance=Resistance.parse("0 ohm"),
    max_current=Current.parse("200 A"),
    shrouded=True,
)
EQUIPMENT = Equipment(
    amplifiers=(KILO, CORRECTED, SMALL), loudspeakers=(BOX,), cables=(CABLE,), connectors=(PLUG,)
)
SUB = Feed(
    id="sub", band=(Frequency.parse("32 Hz"), Frequency.parse("90 Hz")), limiter_rms=Voltage.parse("80 V")
)


def circuit(
    name: str, breaker: str = "16 A", phase: Phase = "L1", feed: tuple[str, str] | None = None, **more: Any
) -> Circuit:
    """A circuit; `feed` is its cable's length and size."""
    cable = feed and SupplyCable(length=Length.parse(feed[0]), size=ConductorSize.parse(feed[1]))
    return Circuit(id=name, breaker=Current.parse(breaker), phase=phase, supply_cable=cable or None, **more)


def amplifier(name: str, circuit: str = "", model: str = "kilo", **more: Any) -> Amplifier:
    """An amplifier whose two channels play the sub feed."""
    channels = more.pop("channels", (Channel(feed="sub"), Channel(feed="sub")))
    return Amplifier(id=name, model=model, unit=1, circuit=circuit, channels=channels, **more)


def rig(
    circuits: tuple[Circuit, ...],
    *amplifiers: Amplifier,
    equipment: Equipment = EQUIPMENT,
    **supply: Any,
) -> Rig:
    """Each amplifier in a rack of its own, each of its two channels on a socket, a line and a box of its own."""
    racks, lines, cabinets = [], [], []
    for a in amplifiers:
        names = [f"{a.id}-{number}" for number in (1, 2)]
        sockets = tuple(
            Socket(id=f"S{name}", connector="plug", poles=(f"{a.id}.{number}",))
            for number, name in enumerate(names, start=1)
        )
        racks.append(Rack(id=f"R{a.id}", height=4, amplifiers=(a,), sockets=sockets))
        lines += [
            Line(id=f"L{name}", source=f"S{name}", to=f"B{name}", cable="stout", length=Length.parse("0.1 m"))
            for name in names
        ]
        cabinets += [Cabinet(id=f"B{name}", model="box") for name in names]
    return Rig(
        name="trial",
        supply=Supply(**supply),
        circuits=circuits,
        feeds=(SUB,),
        racks=tuple(racks),
        lines=tuple(lines),
        cabinets=tuple(cabinets),
        equipment=equipment,
    )
