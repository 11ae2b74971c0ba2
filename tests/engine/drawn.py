"""Rigs drawn by hypothesis: any wiring that the rules let through, of the parts in `rigs`."""

import functools

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
from strategies import any_of, whole

CIRCUITS = (
    rigs.CIRCUIT,
    replace(rigs.CIRCUIT, id="P2", phase="L2", breaker=Current.parse("16 A"), curve="B"),
)

lengths = whole(5, 900).map(lambda tenths: Length.parse(f"{tenths / 10} m"))
wirings = {model.id: tuple(model.wirings) for model in rigs.EQUIPMENT.loudspeakers}
channel_counts = {model.id: model.channels for model in rigs.EQUIPMENT.amplifiers}


@functools.cache
def _channels(feeds: tuple[str, ...], most: int) -> st.SearchStrategy[list[Channel]]:
    channel = st.builds(Channel, feed=any_of(feeds), state=any_of(["ok"] * 6 + ["failed"]))
    return st.lists(channel, min_size=most - 1, max_size=most)


@functools.cache
@st.composite
def amplifiers(
    draw: DrawFn, name: str, feeds: tuple[str, ...] = ("sub", "mid", "high", "full", "sub", "full", "")
) -> Amplifier:
    model = draw(any_of(sorted(channel_counts)))
    return Amplifier(
        id=name,
        model=model,
        unit=draw(whole(1, 12)),
        circuit=draw(any_of(["", *(circuit.id for circuit in CIRCUITS)])),
        mode=draw(any_of(MODES) | st.tuples(any_of(MODES))),
        channels=tuple(draw(_channels(feeds, channel_counts[model]))),
    )


def poles(rig_amplifiers: tuple[Amplifier, ...]) -> st.SearchStrategy[str]:
    """What a socket's pole pair may be wired to."""
    names = [
        f"{sign}{amplifier.id}.{channel}"
        for amplifier in rig_amplifiers
        for channel in range(1, channel_counts[amplifier.model] + 1)
        for sign in ("", "-")
    ]
    return any_of([*names, *names, *names, ""])


@functools.cache
@st.composite
def cabinets(draw: DrawFn, name: str, strapped: bool = True) -> Cabinet:
    """`strapped`: whether a section may hang on two pole pairs."""
    model = draw(any_of(sorted(wirings)))
    known = [wiring for wiring in wirings[model] if strapped or wiring != "strapped"]
    return rigs.cabinet(name, model, draw(any_of(["", *known])))


@functools.cache
def _pole_maps(near: int, most: int) -> st.SearchStrategy[list[int]]:
    return st.one_of(st.just([]), st.just([]), st.lists(whole(1, near), max_size=most))


@st.composite
def lines(draw: DrawFn, rig: Rig, name: str, source: str, to: str) -> Line:
    """A line between two ends of `rig`, its cores and its map of pole pairs within what the ends carry."""
    index = Index(rig)
    cable = draw(any_of(rig.equipment.cables))
    drawn = Line(id=name, source=source, to=to, cable=cable.id, length=draw(lengths))
    cores = draw(any_of([n for n in (1, 2) if pairs_carried(cable, n)]))
    drawn = replace(drawn, cores_per_pole=cores)
    near, far = index.near_connector(drawn).pole_pairs, index.cabinet_connector(to).pole_pairs
    widest = min(pairs_carried(cable, cores), far)
    return replace(drawn, poles=tuple(draw(_pole_maps(near, widest))))


feeds = st.tuples(
    *(
        st.builds(
            Feed,
            id=st.just(feed.id),
            band=st.just(feed.band),
            polarity=any_of(["normal", "inverted"]),
            limiter_rms=st.none() | st.just(LimiterSetting.parse("60 V")),
            limiter_peak=st.none() | st.just(LimiterSetting.parse("150 V")),
        )
        for feed in rigs.FEEDS
    )
)


@st.composite
def wired(draw: DrawFn, strapped: bool = True, most: int = 7) -> Rig:
    """A rig of up to three amplifiers in two racks, and up to `most` cabinets, linked or split in any way."""
    amps = tuple(draw(amplifiers(f"A{i}")) for i in range(draw(whole(1, 3))))
    panel = tuple(
        Socket(
            id=f"S{i}",
            connector=kind,
            poles=tuple(draw(poles(amps)) for _ in range(pairs)),
        )
        for i in range(draw(whole(1, 3)))
        for kind, pairs in (draw(any_of([("two", 1), ("four", 2), ("eight", 4)])),)
    )
    cut = draw(whole(0, len(amps)))
    racks = (
        Rack(id="R1", height=8, amplifiers=amps[:cut], sockets=panel[:cut]),
        Rack(id="R2", height=12, amplifiers=amps[cut:], sockets=panel[cut:]),
    )
    boxes = tuple(draw(cabinets(f"C{i}", strapped)) for i in range(draw(whole(1, most))))
    bare = Rig(
        name="drawn",
        supply=Supply(ambient=Temperature.parse(f"{draw(whole(-10, 50))} degC")),
        circuits=CIRCUITS,
        feeds=draw(feeds),
        racks=racks,
        cabinets=boxes,
        equipment=rigs.EQUIPMENT,
    )
    ends = [s.id for s in panel]
    runs = []
    for i, box in enumerate(boxes):
        source = draw(any_of([*ends, *ends, None]) if i else any_of(ends))
        if source is not None:
            runs.append(draw(lines(bare, f"L{i}", source, box.id)))
        ends.append(box.id)
    rig = replace(bare, lines=tuple(draw(st.permutations(runs))))
    assert not check(rig)
    return rig


supply_cables = st.none() | st.builds(
    SupplyCable,
    length=lengths,
    size=any_of(["2.5 mm2", "16 mm2"]).map(ConductorSize.parse),
    conductor_class=any_of(["", "cord"]),
)
guards = any_of([None, ResidualCurrent.parse("30 mA")])


def boards(name: str, above: tuple[str, ...]) -> st.SearchStrategy[Board]:
    """A board fed from the supply or from one of those above it."""
    return st.builds(
        Board,
        id=st.just(name),
        source=any_of(("", *above)),
        rating=any_of([None, Current.parse("32 A")]),
        phase=any_of(["", "L1-L2-L3"]),
        rcd=guards,
        supply_cable=supply_cables,
        state=any_of(["ok"] * 3 + ["failed"]),
    )


def loads(circuits: list[str]) -> st.SearchStrategy[Load]:
    """What else there is, anywhere."""
    watts = whole(100, 4000).map(lambda value: Power.parse(f"{value} W"))
    return st.builds(Load, id=st.just("LIGHTS"), circuit=any_of(["", *circuits]), power=watts)


@st.composite
def fed(draw: DrawFn) -> Rig:
    """A rig as of `wired`, with its circuits, two more and a load on a tree of two boards."""
    rig = draw(wired())
    tree = (draw(boards("D1", ())), draw(boards("D2", ("D1",))))
    more = tuple(replace(circuit, id=f"{circuit.id}B") for circuit in CIRCUITS)
    circuits = tuple(
        replace(
            each,
            board=draw(any_of(["", "D1", "D2"])),
            rcd=draw(guards),
            supply_cable=draw(supply_cables),
        )
        for each in (*rig.circuits, *more)
    )
    load = draw(loads([circuit.id for circuit in circuits]))
    rig = replace(rig, boards=tree, circuits=circuits, loads=(load,))
    assert not check(rig)
    return rig
