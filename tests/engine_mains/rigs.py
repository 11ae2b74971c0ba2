"""Small rigs of invented equipment for the tests of mains and touch: amplifiers on circuits, each with its loudspeakers.

Cables and connectors are as good as ideal, so that a channel's power is its rating's by sight. Holds no
expected figure.
"""

from typing import Any

from msgspec.structs import replace

import rigs
from rackwright.model.equipment import Equipment, LoudspeakerModel
from rackwright.model.mains import Circuit, Supply
from rackwright.model.racks import Amplifier, Channel, Rack
from rackwright.model.rig import Rig
from rackwright.units import Current, LimiterSetting
from rigs import cabinet, cable, connector, feed, line, ratings, section, socket

KILO = replace(rigs.DUO, id="kilo", ratings=ratings(("8 ohm", "1000 W")), power_factor=0.65)
"""1000 W a channel into 8 Ω, without power-factor correction."""

CORRECTED = replace(KILO, id="corrected", power_factor=0.98)
SMALL = replace(KILO, id="small", ratings=ratings(("8 ohm", "200 W")), inrush=Current.parse("20 A"))

BOX = LoudspeakerModel(
    id="box",
    connector="plug",
    sections=(section("cone", "low", "8 ohm", "1000 W", "30 Hz"),),
    wirings={"first": (("cone",),)},
)
CABLE, PLUG = cable("stout", 2, "35 mm2", "200 A"), connector("plug", 1, "0 ohm", "200 A")
EQUIPMENT = Equipment(
    amplifiers=(KILO, CORRECTED, SMALL), loudspeakers=(BOX,), cables=(CABLE,), connectors=(PLUG,)
)
SUB = feed("sub", "32 Hz", "90 Hz", limiter_rms=LimiterSetting.parse("80 V"))


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
            socket(f"S{name}", f"{a.id}.{number}", connector="plug")
            for number, name in enumerate(names, start=1)
        )
        racks.append(Rack(id=f"R{a.id}", height=4, amplifiers=(a,), sockets=sockets))
        lines += [line(f"L{name}", f"S{name}", f"B{name}", "0.1 m", "stout") for name in names]
        cabinets += [cabinet(f"B{name}", "box") for name in names]
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
