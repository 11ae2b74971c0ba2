"""Small rigs in which things fail, drawn by hypothesis."""

from hypothesis import strategies as st
from hypothesis.strategies import DrawFn
from msgspec.structs import replace

import rigs
from rackwright.model import edits
from rackwright.model.lines import Spare
from rackwright.model.rig import Rig
from rackwright.model.rules import check
from rackwright.units import Length, Trim

FEEDS_OF = {"double": ("sub", "sub"), "woofer": ("sub", "sub"), "top": ("mid", "high"), "wedge": ("full",)}
"""What each pole pair of a cabinet is meant to play."""

LINK = Spare(cable="4x2.5", length=Length.parse("5 m"), count=1)
SPARE_DUO = Spare(amplifier="duo", count=1)
SPARE_QUAD = Spare(amplifier="quad", count=1)


SPARES = [(), (LINK,), (SPARE_DUO,), (SPARE_QUAD,)]


@st.composite
def rigs_to_break(draw: DrawFn, cabinets: int = 3) -> Rig:
    """One rack of two or three amplifiers and up to `cabinets` cabinets, each pole pair on a channel of its feed."""
    models = [draw(st.sampled_from(["duo", "stout", "quad"])) for _ in range(draw(st.integers(2, 3)))]
    feeds: dict[str, str] = {
        f"A{i}.{c}": draw(st.sampled_from(["sub", "sub", "mid", "high", "full", ""]))
        for i in range(len(models))
        for c in (1, 2)
    }
    things = []
    for i, model in enumerate(models):
        mode = draw(st.sampled_from(["dual"] * 5 + ["bridged", "parallel"]))
        of = [feeds[f"A{i}.1"], feeds[f"A{i}.2"]]
        things.append(rigs.amplifier(f"A{i}", *of, model=model, unit=1 + 2 * i, mode=mode))
    cabs: list[str] = []
    for i in range(draw(st.integers(1, cabinets))):
        model = draw(st.sampled_from(["double", "woofer", "top"]))
        side = draw(st.sampled_from(["", "left", "left", "right"]))
        things.append(replace(rigs.cabinet(f"C{i}", model), priority=draw(st.integers(1, 3)), side=side))
        if cabs and draw(st.integers(0, 3)) == 0:
            things.append(rigs.line(f"L{i}", draw(st.sampled_from(cabs)), f"C{i}"))
        else:
            poles = [_channel(draw, feeds, feed) for feed in FEEDS_OF[model]]
            things.append(rigs.socket(f"S{i}", *poles))
            things.append(rigs.line(f"L{i}", f"S{i}", f"C{i}", draw(st.sampled_from(["5 m", "20 m"]))))
        cabs.append(f"C{i}")
    if draw(st.booleans()):
        things.append(rigs.socket("S9", *[_channel(draw, feeds, "sub") for _ in (1, 2)]))
    circuits = (rigs.CIRCUIT, replace(rigs.CIRCUIT, id="P2"))
    rig = rigs.rig(*things, circuits=circuits, spares=draw(st.sampled_from(SPARES)))
    trim = Trim.parse(draw(st.sampled_from(["0 dB", "-6 dB"])))
    for name in feeds:
        rig = edits.change(rig, name, trim=trim)
    assert not check(rig)
    return rig


def _channel(draw: DrawFn, feeds: dict[str, str], feed: str) -> str:
    """A channel of that feed where there is one, mostly."""
    fitting = [name for name, has in feeds.items() if has == feed]
    return draw(st.sampled_from(fitting * 4 + [""] if fitting else sorted(feeds)))


@st.composite
def failures(draw: DrawFn, rig: Rig) -> list[str]:
    """A channel, an amplifier or the circuit."""
    names = [f"{a.id}.{c}" for a in rig.amplifiers() for c in (1, 2)]
    driving = sorted({pole for socket in rig.sockets() for pole in socket.poles if pole})
    return [draw(st.sampled_from([*driving * 3, *names, *(a.id for a in rig.amplifiers()), "P1"]))]
