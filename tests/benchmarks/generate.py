"""Rigs of any size for the benchmarks, of invented equipment.

Four sections to an amplifier channel pair, as a hall has them: a double woofer at the end of a run and a second linked
on from it, each of its two sections on a pole pair of its own.
"""

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
from rackwright.model.rig import Amplifier, Cabinet, Channel, Feed, Line, Rack, Rig, Socket
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
)

STOCKED = 8
"""Lengths of cable that a store has, where lengths are not all distinct."""


def rig(sections: int, distinct: bool) -> Rig:
    """A rig of about `sections` sections (a multiple of four), its long runs of distinct or of stocked lengths."""
    pairs = range(max(1, round(sections / 4)))
    return Rig(
        name=f"{4 * len(pairs)} sections",
        feeds=(Feed(id="sub", band=(Frequency.parse("32 Hz"), Frequency.parse("90 Hz"))),),
        racks=tuple(_rack(i) for i in pairs),
        lines=tuple(line for i in pairs for line in _lines(i, i if distinct else i % STOCKED)),
        cabinets=tuple(
            Cabinet(id=f"C{i}{end}", model="double", wiring="split") for i in pairs for end in ("a", "b")
        ),
        equipment=_equipment(),
    )


def _rack(i: int) -> Rack:
    channels = (Channel(feed="sub"), Channel(feed="sub"))
    return Rack(
        id=f"R{i}",
        height=4,
        amplifiers=(Amplifier(id=f"A{i}", model="duo", unit=1, channels=channels),),
        sockets=(Socket(id=f"S{i}", connector="four", poles=(f"A{i}.1", f"A{i}.2")),),
    )


def _lines(i: int, tenths: int) -> tuple[Line, Line]:
    run, link = Length.parse(f"{10 + tenths / 10:g} m"), Length.parse("5 m")
    return (
        Line(id=f"L{i}a", source=f"S{i}", to=f"C{i}a", cable="4x2.5", length=run),
        Line(id=f"L{i}b", source=f"C{i}a", to=f"C{i}b", cable="4x2.5", length=link),
    )


def _equipment() -> Equipment:
    driver = Driver(
        fs=Frequency.parse("34 Hz"),
        qms=6.5,
        qes=0.38,
        le=Inductance.parse("1.4 mH"),
        box="vented",
        alpha=1.1,
        fb=Frequency.parse("36 Hz"),
        ql=7,
    )
    sections = tuple(
        Section(
            id=name,
            kind="low",
            nominal=Impedance.parse("8 ohm"),
            dc_resistance=Resistance.parse("5.4 ohm"),
            continuous=Power.parse("800 W"),
            lowest=Frequency.parse("28 Hz"),
            driver=driver,
        )
        for name in ("upper", "lower")
    )
    amplifier = AmplifierModel(
        id="duo",
        channels=2,
        height=2,
        ratings=tuple(
            Rating(load=Impedance.parse(load), power=Power.parse(power))
            for load, power in (("8 ohm", "1100 W"), ("4 ohm", "1800 W"), ("2 ohm", "2600 W"))
        ),
        damping_factor=DampingRating(value=400, load=Impedance.parse("8 ohm")),
        gain=Level.parse("32 dB"),
        idle_power=Power.parse("60 W"),
        efficiency=0.8,
        power_factor=0.62,
        inrush=Current.parse("45 A"),
        terminals="shrouded",
        max_current=Current.parse("40 A"),
        weight=Mass.parse("14 kg"),
    )
    cable = CableModel(
        id="4x2.5", cores=4, size=ConductorSize.parse("2.5 mm2"), max_current=Current.parse("25 A")
    )
    connector = ConnectorModel(
        id="four",
        pole_pairs=2,
        contact_resistance=Resistance.parse("2 mohm"),
        max_current=Current.parse("30 A"),
        shrouded=True,
    )
    speaker = LoudspeakerModel(
        id="double", connector="four", sections=sections, wirings={"split": (("upper",), ("lower",))}
    )
    return Equipment(
        amplifiers=(amplifier,), loudspeakers=(speaker,), cables=(cable,), connectors=(connector,)
    )
