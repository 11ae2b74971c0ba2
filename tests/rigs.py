"""Small rigs of invented equipment for all tests: parts, how to make more of them, a sound rig, ways to change one thing of it.

Holds no expected figure: those stand in the tests, beside their source.
"""

from typing import Any, TypeVar

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
from rackwright.model.lines import Cabinet, Line
from rackwright.model.mains import Circuit, Phase, SupplyCable
from rackwright.model.racks import Amplifier, Channel, Feed, Rack, Socket
from rackwright.model.rig import Rig
from rackwright.units import (
    ConductorSize,
    Current,
    Frequency,
    Impedance,
    Inductance,
    Length,
    Level,
    LimiterSetting,
    Mass,
    Power,
    Resistance,
)

T = TypeVar("T")


def ratings(*pairs: tuple[str, str]) -> tuple[Rating, ...]:
    """Rated points from (load, power) as typed."""
    return tuple(Rating(load=Impedance.parse(load), power=Power.parse(power)) for load, power in pairs)


DUO = AmplifierModel(
    id="duo",
    channels=2,
    height=2,
    ratings=ratings(("8 ohm", "1100 W"), ("4 ohm", "1800 W"), ("2 ohm", "2600 W")),
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
"""The amplifier worked out by hand in the description of the physics."""

QUAD = replace(DUO, id="quad", channels=4, height=1, weight=Mass.parse("11 kg"))
STOUT = replace(DUO, id="stout", ratings=ratings(("8 ohm", "1100 W"), ("4 ohm", "1800 W")))
"""Not rated under 4 Ω."""

VENTED = Driver(
    fs=Frequency.parse("34 Hz"),
    qms=6.5,
    qes=0.38,
    le=Inductance.parse("1.4 mH"),
    box="vented",
    alpha=1.1,
    fb=Frequency.parse("36 Hz"),
    ql=7,
)


def section(name: str, kind: Any, nominal: str, continuous: str, lowest: str, **more: Any) -> Section:
    """A section from what is typed; its DC resistance is 0.675 of the nominal impedance unless given."""
    impedance = Impedance.parse(nominal)
    coil = Resistance.parse(f"{impedance.value * 0.675:g} ohm")
    return Section(
        id=name,
        kind=kind,
        nominal=impedance,
        continuous=Power.parse(continuous),
        lowest=Frequency.parse(lowest),
        **{"dc_resistance": coil} | more,
    )


SUB_SECTION = section("upper", "low", "8 ohm", "800 W", "28 Hz", driver=VENTED)
SUB = LoudspeakerModel(
    id="double",
    connector="four",
    sections=(SUB_SECTION, replace(SUB_SECTION, id="lower")),
    wirings={
        "split": (("upper",), ("lower",)),
        "joined": (("upper", "lower"),),
        "strapped": (("upper",), ("upper",)),
    },
)
WOOFER = LoudspeakerModel(
    id="woofer",
    connector="four",
    sections=(section("cone", "low", "8 ohm", "800 W", "30 Hz"),),
    wirings={"first": (("cone",),), "second": ((), ("cone",))},
)
TOP = LoudspeakerModel(
    id="top",
    connector="four",
    sections=(
        section("mid", "mid", "8 ohm", "700 W", "80 Hz", highest=Frequency.parse("2.5 kHz")),
        section("horn", "high", "16 ohm", "100 W", "1 kHz"),
    ),
    wirings={"straight": (("mid",), ("horn",)), "turned": (("horn",), ("mid",))},
)
WEDGE = LoudspeakerModel(
    id="wedge",
    connector="two",
    sections=(section("whole", "full", "12 ohm", "500 W", "60 Hz"),),
    wirings={"passive": (("whole",),)},
)


def cable(name: str, cores: int, size: str, current: str = "25 A") -> CableModel:
    return CableModel(
        id=name, cores=cores, size=ConductorSize.parse(size), max_current=Current.parse(current)
    )


def connector(name: str, pole_pairs: int, contact: str = "2 mohm", current: str = "30 A") -> ConnectorModel:
    return ConnectorModel(
        id=name,
        pole_pairs=pole_pairs,
        contact_resistance=Resistance.parse(contact),
        max_current=Current.parse(current),
        shrouded=True,
    )


EQUIPMENT = Equipment(
    amplifiers=(DUO, QUAD, STOUT),
    loudspeakers=(SUB, WOOFER, TOP, WEDGE),
    cables=(
        cable("2x2.5", 2, "2.5 mm2"),
        cable("4x2.5", 4, "2.5 mm2"),
        cable("8x4", 8, "4 mm2"),
        cable("4x12", 4, "12 AWG"),
    ),
    connectors=(connector("two", 1, "3 mohm"), connector("four", 2), connector("eight", 4, "1.5 mohm")),
)


def feed(name: str, low: str, high: str, **more: Any) -> Feed:
    return Feed(id=name, band=(Frequency.parse(low), Frequency.parse(high)), **more)


FEEDS = (
    feed("sub", "32 Hz", "90 Hz"),
    feed("mid", "90 Hz", "1.2 kHz"),
    feed("high", "1.2 kHz", "18 kHz", limiter_rms=LimiterSetting.parse("40 V")),
    feed("full", "80 Hz", "18 kHz"),
)


def circuit(
    name: str, breaker: str = "16 A", phase: Phase = "L1", feed: tuple[str, str] | None = None, **more: Any
) -> Circuit:
    """A circuit; `feed` is its cable's length and size."""
    cable = feed and SupplyCable(length=Length.parse(feed[0]), size=ConductorSize.parse(feed[1]))
    return Circuit(id=name, breaker=Current.parse(breaker), phase=phase, supply_cable=cable or None, **more)


CIRCUIT = circuit("P1", "63 A", curve="D")


def amplifier(
    name: str,
    *feeds: str,
    model: str = "duo",
    unit: int = 1,
    mode: Any = "dual",
    failed: tuple[int, ...] = (),
    circuit: str = "P1",
) -> Amplifier:
    """An amplifier with a feed for each channel; `failed` counts channels from 1."""
    channels = tuple(
        Channel(feed=name, state="failed" if number in failed else "ok")
        for number, name in enumerate(feeds, start=1)
    )
    return Amplifier(id=name, model=model, unit=unit, mode=mode, channels=channels, circuit=circuit)


def socket(name: str, *poles: str, connector: str = "four") -> Socket:
    return Socket(id=name, connector=connector, poles=poles)


def line(
    name: str,
    source: str,
    to: str,
    length: str = "10 m",
    cable: str = "4x2.5",
    poles: tuple[int, ...] = (),
    cores: int = 1,
) -> Line:
    return Line(
        id=name,
        source=source,
        to=to,
        cable=cable,
        length=Length.parse(length),
        poles=poles,
        cores_per_pole=cores,
    )


def cabinet(name: str, model: str = "double", wiring: str = "", **more: Any) -> Cabinet:
    return Cabinet(id=name, model=model, wiring=wiring, **more)


def rig(*things: Amplifier | Socket | Line | Cabinet, **more: Any) -> Rig:
    """A rig of one rack, R1, and one circuit, P1, with all that is given."""

    def of(kind: type[T]) -> tuple[T, ...]:
        return tuple(thing for thing in things if isinstance(thing, kind))

    rack = Rack(id="R1", height=12, amplifiers=of(Amplifier), sockets=of(Socket))
    return Rig(
        name="trial",
        racks=(rack,),
        lines=of(Line),
        cabinets=of(Cabinet),
        **{"feeds": FEEDS, "equipment": EQUIPMENT, "circuits": (CIRCUIT,)} | more,
    )


SOUND = rig(
    amplifier("A1", "sub", "sub"),
    amplifier("A2", "mid", "high", unit=3),
    socket("S1", "A1.1", "A1.2"),
    socket("S2", "A2.1", "A2.2"),
    line("L1", "S1", "SUB1"),
    line("L2", "S2", "TOP1"),
    cabinet("SUB1", "double", "split"),
    cabinet("TOP1", "top", "straight"),
)
"""A rig with nothing to say about: two woofers and a bi-amped top, each section on a channel and a pole pair of its own."""


def changed(rig: Rig, name: str, **changes: Any) -> Rig:
    """The rig with other values for the keys of one of its things, or of one equipment entry."""
    assert any(thing.id == name for thing in _things(rig)), name
    return replace(
        rig,
        boards=_swapped(rig.boards, name, changes),
        circuits=_swapped(rig.circuits, name, changes),
        loads=_swapped(rig.loads, name, changes),
        feeds=_swapped(rig.feeds, name, changes),
        racks=tuple(
            replace(
                rack,
                amplifiers=_swapped(rack.amplifiers, name, changes),
                sockets=_swapped(rack.sockets, name, changes),
            )
            for rack in _swapped(rig.racks, name, changes)
        ),
        lines=_swapped(rig.lines, name, changes),
        cabinets=_swapped(rig.cabinets, name, changes),
        equipment=Equipment(
            amplifiers=_swapped(rig.equipment.amplifiers, name, changes),
            loudspeakers=_swapped(rig.equipment.loudspeakers, name, changes),
            cables=_swapped(rig.equipment.cables, name, changes),
            connectors=_swapped(rig.equipment.connectors, name, changes),
        ),
    )


def without(rig: Rig, *names: str) -> Rig:
    """The rig with those lines, cabinets, amplifiers and sockets taken out."""

    def rest(things: tuple[Any, ...]) -> tuple[Any, ...]:
        return tuple(thing for thing in things if thing.id not in names)

    racks = tuple(
        replace(rack, amplifiers=rest(rack.amplifiers), sockets=rest(rack.sockets)) for rack in rig.racks
    )
    return replace(rig, racks=racks, lines=rest(rig.lines), cabinets=rest(rig.cabinets))


def _things(rig: Rig) -> tuple[Any, ...]:
    own = (
        *rig.boards,
        *rig.circuits,
        *rig.loads,
        *rig.feeds,
        *rig.racks,
        *rig.amplifiers(),
        *rig.sockets(),
        *rig.lines,
        *rig.cabinets,
    )
    return (*own, *rig.equipment.entries())


def _swapped(things: tuple[T, ...], name: str, changes: dict[str, Any]) -> tuple[T, ...]:
    if not any(thing.id == name for thing in things):  # type: ignore[attr-defined]
        return things
    return tuple(replace(thing, **changes) if thing.id == name else thing for thing in things)  # type: ignore[attr-defined,type-var]
