"""Rigs drawn by hypothesis: any wiring that the rules let through, of the parts in `rigs`."""

from hypothesis import strategies as st
from hypothesis.strategies import DrawFn
from msgspec.structs import replace

import rigs
from rackwright.model.index import Index, pairs_carried
from rackwright.model.lines import Cabinet, Line
from rackwright.model.mains import Board, Load, Supply, SupplyCable
from rackwright.model.racks import MODES, Amplifier, Channel, Feed, Rack, Socket
from rackwright.model.rig import Rig
from rackwright.model.rules import check
from rackwright.units import (
    ConductorSize,
    Current,
    Length,
    LimiterSetting,
    Power,
    ResidualCurrent,
    Temperature,
)

CIRCUITS = (
    rigs.CIRCUIT,
    replace(rigs.CIRCUIT, id="P2", phase="L2", breaker=Current.parse("16 A"), curve="B"),
)

lengths = st.integers(5, 900).map(lambda tenths: Length.parse(f"{tenths / 10} m"))
wirings = {model.id: tuple(model.wirings) for model in rigs.EQUIPMENT.loudspeakers}
channel_counts = {model.id: model.channels for model in rigs.EQUIPMENT.amplifiers}


@st.composite
def amplifiers(
    draw: DrawFn, name: str, feeds: tuple[str, ...] = ("sub", "mid", "high", "full", "sub", "full", "")
) -> Amplifier:
    model = draw(st.sampled_from(sorted(channel_counts)))
    channels = st.builds(Channel, feed=st.sampled_from(feeds), state=st.sampled_from(["ok"] * 6 + ["failed"]))
    return Amplifier(
        id=name,
        model=model,
        unit=draw(st.integers(1, 12)),
        circuit=draw(st.sampled_from(["", *(circuit.id for circuit in CIRCUITS)])),
        mode=draw(st.sampled_from(MODES) | st.tuples(st.sampled_from(MODES))),
        channels=tuple(
            draw(st.lists(channels, min_size=channel_counts[model] - 1, max_size=channel_counts[model]))
        ),
    )


def poles(rig_amplifiers: tuple[Amplifier, ...]) -> st.SearchStrategy[str]:
    """What a socket's pole pair may be wired to."""
    names = [
        f"{sign}{amplifier.id}.{channel}"
        for amplifier in rig_amplifiers
        for channel in range(1, channel_counts[amplifier.model] + 1)
        for sign in ("", "-")
    ]
    return st.sampled_from([*names, *names, *names, ""])


@st.composite
def cabinets(draw: DrawFn, name: str, strapped: bool = True) -> Cabinet:
    """`strapped`: whether a section may hang on two pole pairs."""
    model = draw(st.sampled_from(sorted(wirings)))
    known = [wiring for wiring in wirings[model] if strapped or wiring != "strapped"]
    return rigs.cabinet(name, model, draw(st.sampled_from(["", *known])))


@st.composite
def lines(draw: DrawFn, rig: Rig, name: str, source: str, to: str) -> Line:
    """A line between two ends of `rig`, its cores and its map of pole pairs within what the ends carry."""
    index = Index(rig)
    cable = draw(st.sampled_from(rig.equipment.cables))
    drawn = Line(id=name, source=source, to=to, cable=cable.id, length=draw(lengths))
    cores = draw(st.sampled_from([n for n in (1, 2) if pairs_carried(cable, n)]))
    drawn = replace(drawn, cores_per_pole=cores)
    near, far = index.near_connector(drawn).pole_pairs, index.cabinet_connector(to).pole_pairs
    widest = min(pairs_carried(cable, cores), far)
    pairs = st.lists(st.integers(1, near), max_size=widest)
    return replace(drawn, poles=tuple(draw(st.one_of(st.just([]), st.just([]), pairs))))


feeds = st.tuples(
    *(
        st.builds(
            Feed,
            id=st.just(feed.id),
            band=st.just(feed.band),
            polarity=st.sampled_from(["normal", "inverted"]),
            limiter_rms=st.none() | st.just(LimiterSetting.parse("60 V")),
            limiter_peak=st.none() | st.just(LimiterSetting.parse("150 V")),
        )
        for feed in rigs.FEEDS
    )
)


@st.composite
def wired(draw: DrawFn, strapped: bool = True, most: int = 7) -> Rig:
    """A rig of up to three amplifiers in two racks, and up to `most` cabinets, linked or split in any way."""
    amps = tuple(draw(amplifiers(f"A{i}")) for i in range(draw(st.integers(1, 3))))
    panel = tuple(
        Socket(
            id=f"S{i}",
            connector=kind,
            poles=tuple(draw(st.lists(poles(amps), min_size=pairs, max_size=pairs))),
        )
        for i in range(draw(st.integers(1, 3)))
        for kind, pairs in (draw(st.sampled_from([("two", 1), ("four", 2), ("eight", 4)])),)
    )
    cut = draw(st.integers(0, len(amps)))
    racks = (
        Rack(id="R1", height=8, amplifiers=amps[:cut], sockets=panel[:cut]),
        Rack(id="R2", height=12, amplifiers=amps[cut:], sockets=panel[cut:]),
    )
    boxes = tuple(draw(cabinets(f"C{i}", strapped)) for i in range(draw(st.integers(1, most))))
    bare = Rig(
        name="drawn",
        supply=Supply(ambient=Temperature.parse(f"{draw(st.integers(-10, 50))} degC")),
        circuits=CIRCUITS,
        feeds=draw(feeds),
        racks=racks,
        cabinets=boxes,
        equipment=rigs.EQUIPMENT,
    )
    ends = [s.id for s in panel]
    runs = []
    for i, box in enumerate(boxes):
        source = draw(st.sampled_from([*ends, *ends, None]) if i else st.sampled_from(ends))
        if source is not None:
            runs.append(draw(lines(bare, f"L{i}", source, box.id)))
        ends.append(box.id)
    rig = replace(bare, lines=tuple(draw(st.permutations(runs))))
    assert not check(rig)
    return rig


supply_cables = st.none() | st.builds(
    SupplyCable,
    length=lengths,
    size=st.sampled_from(["2.5 mm2", "16 mm2"]).map(ConductorSize.parse),
    conductor_class=st.sampled_from(["", "cord"]),
)
guards = st.sampled_from([None, ResidualCurrent.parse("30 mA")])


def boards(name: str, above: tuple[str, ...]) -> st.SearchStrategy[Board]:
    """A board fed from the supply or from one of those above it."""
    return st.builds(
        Board,
        id=st.just(name),
        source=st.sampled_from(("", *above)),
        rating=st.sampled_from([None, Current.parse("32 A")]),
        phase=st.sampled_from(["", "L1-L2-L3"]),
        rcd=guards,
        supply_cable=supply_cables,
        state=st.sampled_from(["ok"] * 3 + ["failed"]),
    )


def loads(circuits: list[str]) -> st.SearchStrategy[Load]:
    """What else there is, anywhere."""
    watts = st.integers(100, 4000).map(lambda value: Power.parse(f"{value} W"))
    return st.builds(Load, id=st.just("LIGHTS"), circuit=st.sampled_from(["", *circuits]), power=watts)


@st.composite
def fed(draw: DrawFn) -> Rig:
    """A rig as of `wired`, with its circuits, two more and a load on a tree of two boards."""
    rig = draw(wired())
    tree = (draw(boards("D1", ())), draw(boards("D2", ("D1",))))
    more = tuple(replace(circuit, id=f"{circuit.id}B") for circuit in CIRCUITS)
    circuits = tuple(
        replace(
            each,
            board=draw(st.sampled_from(["", "D1", "D2"])),
            rcd=draw(guards),
            supply_cable=draw(supply_cables),
        )
        for each in (*rig.circuits, *more)
    )
    load = draw(loads([circuit.id for circuit in circuits]))
    rig = replace(rig, boards=tree, circuits=circuits, loads=(load,))
    assert not check(rig)
    return rig
