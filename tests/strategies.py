"""Hypothesis strategies: any rig that the model can hold and that keeps every rule.

`rigs()` draws whole rigs: odd names, every spelling of every unit, trees of lines with crossed pole pairs and cores in
parallel, amplifiers in every mode, equipment with and without each optional figure. Draws nothing that a rule forbids.
"""

import functools
import math
from collections.abc import Callable, Iterable, Sequence
from datetime import datetime
from typing import Any, TypeVar, get_args

from hypothesis import strategies as st
from msgspec.structs import replace

from rackwright import units
from rackwright.model.equipment import (
    AmplifierModel,
    Assumable,
    CableModel,
    ConnectorModel,
    DampingRating,
    Driver,
    Equipment,
    LoudspeakerModel,
    Rating,
    Section,
)
from rackwright.model.lines import Cabinet, Line, Spare, Stock
from rackwright.model.mains import Board, Circuit, Load, Measured, Supply, SupplyCable
from rackwright.model.night import Baseline, Night, NightList, Rewiring, Step
from rackwright.model.racks import Amplifier, Channel, Feed, Rack, Socket
from rackwright.model.readings import FormerReading, Reading
from rackwright.model.rig import Rig, Targets, Venue
from rackwright.units import Quantity, QuantityError

Draw = Callable[[st.SearchStrategy[Any]], Any]
T = TypeVar("T")

ODD_TEXTS = (
    "", " ", "\n", "\r\n", "a\r\nb\n", '"', '"""', '""""', 'a"""\n"""', "'''", "\\", "\\\n", "\\u0041", "\x00\x1f\x7f", "\x85\u2028",
    "\ufeff", "# no comment", "[[lines]]\nid = 1", "a\tb \n ", "Ω µ ″ 2.5 mm²", "ﬁ e\u0301", "\U0001f50a", "مرحبا",
)  # fmt: skip

ASSUMABLE = get_args(Assumable)
ID_ENDS = ("", "", "", "a", "-L", "_x", "β", "/2", '"', "#", "№", "'", "\\", ":", "[]", "{}", ",", "+", "'''")


@functools.lru_cache(10_000)
def _sampled(values: tuple[Any, ...]) -> st.SearchStrategy[Any]:
    return st.sampled_from(values)


def any_of(values: Iterable[Any]) -> st.SearchStrategy[Any]:
    """One of these texts. Making a strategy takes longer than drawing from one that is kept."""
    return _sampled(tuple(values))


whole = functools.cache(st.integers)
_either = st.booleans()


def _one(draw: Draw, things: Sequence[T]) -> T:
    """One of these, which may be of any size: drawn by its place, so that the strategy is kept."""
    return things[draw(whole(0, len(things) - 1))]


@functools.cache
def texts() -> st.SearchStrategy[str]:
    """Any text that UTF-8 can hold."""
    return st.one_of(any_of(ODD_TEXTS), st.text(max_size=20), st.just("Stage left"))


def _typed(kind: type[Quantity]) -> list[Quantity]:
    """Each spelling of each unit with a few numbers that are within the bounds."""
    low, high = kind.low or 1e-6, min(kind.high, 1e6)
    middle = math.sqrt(low * high) if low > 0 else (low + high) / 2
    found = [kind.parse(example) for example in kind.examples]
    for unit, (factor, offset) in kind.spellings.items():
        for value in (low * 1.01, middle, high * 0.99):
            number = f"{(value - offset) / factor:.5g}"
            for text in (f"{number} {unit}", f"{number}{unit}", f"{number.replace('.', ',')} {unit}"):
                try:
                    found.append(kind.parse(text))
                except QuantityError:
                    continue
    return found


_POOLS: dict[type[Quantity], list[Quantity]] = {
    kind: _typed(kind) for kind in (*Quantity.__subclasses__(), units.Impedance, units.ResidualCurrent)
}
_POOLS[units.ConductorSize] += [
    units.ConductorSize.parse(text) for text in ("12awg", "#10", "1/0 AWG", "4/0")
]
_POOLS[units.Length] += [units.Length.parse(text) for text in ("80'", "12' 6\"", "12 ft 6 in")]


@functools.cache
def quantities(kind: type[Quantity], least: float = -math.inf) -> st.SearchStrategy[Any]:
    """Quantities of a kind as people type them, none under `least`."""
    return any_of([quantity for quantity in _POOLS[kind] if quantity.value >= least])


@functools.cache
def optional(strategy: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    """None, or what the strategy draws."""
    return st.none() | strategy


@functools.cache
def _pair(kind: type[Quantity]) -> st.SearchStrategy[Any]:
    """Two quantities, the lower first."""
    two = st.lists(quantities(kind), min_size=2, max_size=2, unique_by=lambda quantity: quantity.value)
    return two.map(lambda pair: tuple(sorted(pair, key=lambda quantity: quantity.value)))


def _names(draw: Draw, stem: str, least: int, most: int) -> list[str]:
    """So many ids, each the only one of its name."""
    return [f"{stem}{n}{draw(any_of(ID_ENDS))}" for n in range(draw(whole(least, most)))]


@functools.lru_cache(10_000)
def _tuples(strategy: st.SearchStrategy[Any], most: int, least: int = 0) -> st.SearchStrategy[Any]:
    return st.lists(strategy, min_size=least, max_size=most).map(tuple)


# ---- Equipment -----------------------------------------------------------------------------------------


@functools.cache
def _ratings(least: int) -> st.SearchStrategy[Any]:
    rating = st.builds(Rating, load=quantities(units.Impedance), power=quantities(units.Power))
    return st.lists(rating, min_size=least, max_size=3, unique_by=lambda rating: rating.load.value).map(tuple)


@functools.cache
def amplifier_models() -> st.SearchStrategy[AmplifierModel]:
    """Amplifiers of one to four channels, not named yet."""
    return st.builds(
        AmplifierModel,
        id=st.just("amp"),
        name=texts(),
        channels=whole(1, 4),
        height=whole(1, 6),
        ratings=_ratings(1),
        bridged=_ratings(0),
        open_voltage=optional(quantities(units.Voltage)),
        damping_factor=st.builds(
            DampingRating,
            value=st.floats(1, 1e5) | whole(1, 2000).map(float),
            load=quantities(units.Impedance),
        ),
        gain=quantities(units.Level),
        idle_power=quantities(units.Power),
        efficiency=st.floats(0.05, 1),
        power_factor=st.floats(0.05, 1),
        inrush=quantities(units.Current),
        inrush_kind=any_of(["peak", "rms"]),
        leakage=quantities(units.ResidualCurrent),
        mains=optional(_pair(units.Voltage)),
        output=any_of(["", "full bridge"]),
        terminals=any_of(["exposed", "shrouded"]),
        max_current=quantities(units.Current),
        weight=quantities(units.Mass),
        assumed=st.sets(any_of(ASSUMABLE)).map(lambda names: tuple(n for n in ASSUMABLE if n in names)),
    )


@functools.cache
def drivers() -> st.SearchStrategy[Driver]:
    """Drivers in each kind of box; the vented ones with all that a vented box needs."""
    figure = st.floats(0.01, 100)

    @functools.cache
    def of_box(box: str) -> st.SearchStrategy[Driver]:
        needed = (lambda strategy: strategy) if box == "vented" else optional
        return st.builds(
            Driver,
            fs=quantities(units.Frequency),
            qms=figure,
            qes=figure,
            le=quantities(units.Inductance),
            box=st.just(box),
            alpha=needed(figure),
            fb=needed(quantities(units.Frequency)),
            ql=st.just(7.0) | figure,
        )

    return any_of(["sealed", "vented", "free air"]).flatmap(of_box)


def sections(draw: Draw, name: str) -> Section:
    """A section with any of its optional figures."""
    lowest, highest = draw(_pair(units.Frequency))
    return Section(
        id=name,
        kind=draw(any_of(["low", "mid", "high", "full"])),
        nominal=draw(quantities(units.Impedance)),
        dc_resistance=draw(quantities(units.Resistance, least=0.05)),
        continuous=draw(quantities(units.Power)),
        programme=draw(optional(quantities(units.Power))),
        peak=draw(optional(quantities(units.Power))),
        lowest=lowest,
        highest=draw(any_of([None, highest])),
        sensitivity=draw(optional(quantities(units.Level))),
        capacitor=draw(optional(quantities(units.Capacitance))),
        driver=draw(optional(drivers())),
    )


@functools.lru_cache(10_000)
def _wirings(parts: tuple[str, ...], pole_pairs: int) -> st.SearchStrategy[Any]:
    pair = st.lists(any_of(parts), unique=True, max_size=3).map(tuple)
    names = any_of(["split", "joined", "", "pair 1", 'a "b"', "x.y", "ø", "feed", "id"])
    return st.dictionaries(names, _tuples(pair, pole_pairs), min_size=1, max_size=2)


def loudspeaker_models(draw: Draw, name: str, connectors: tuple[ConnectorModel, ...]) -> LoudspeakerModel:
    """A loudspeaker of one to three sections and one or two wirings."""
    connector = _one(draw, connectors)
    parts = tuple(sections(draw, part) for part in _names(draw, "part", 1, 3))
    return LoudspeakerModel(
        id=name,
        name=draw(texts()),
        connector=connector.id,
        sections=parts,
        wirings=draw(_wirings(tuple(part.id for part in parts), connector.pole_pairs)),
        weight=draw(optional(quantities(units.Mass))),
    )


def equipments(draw: Draw) -> Equipment:
    """At least one entry of each kind."""
    connectors = tuple(
        ConnectorModel(
            id=name,
            name=draw(texts()),
            pole_pairs=draw(whole(1, 4)),
            contact_resistance=draw(quantities(units.Resistance)),
            max_current=draw(quantities(units.Current)),
            shrouded=draw(_either),
        )
        for name in _names(draw, "plug", 1, 2)
    )
    cables = tuple(
        CableModel(
            id=name,
            name=draw(texts()),
            cores=2 * draw(whole(1, 4)),
            size=draw(quantities(units.ConductorSize)),
            max_current=draw(quantities(units.Current)),
            inductance=draw(quantities(units.LineInductance)),
        )
        for name in _names(draw, "flex 4x2.5 ", 1, 2)
    )
    return Equipment(
        amplifiers=tuple(replace(draw(amplifier_models()), id=name) for name in _names(draw, "amp.", 1, 2)),
        loudspeakers=tuple(loudspeaker_models(draw, name, connectors) for name in _names(draw, "box ", 1, 2)),
        cables=cables,
        connectors=connectors,
    )


# ---- The rig -------------------------------------------------------------------------------------------


@functools.cache
def _modes(channels: int) -> st.SearchStrategy[Any]:
    """Every mode that so many channels can have; an odd last channel has no partner."""
    mode = any_of(["dual", "parallel", "bridged"])
    if channels % 2 == 0:
        return mode | _tuples(mode, channels // 2)
    return st.just("dual") | _tuples(mode, channels // 2).map(lambda modes: (*modes, "dual"))


@functools.lru_cache(10_000)
def _channels(feeds: tuple[str, ...], most: int) -> st.SearchStrategy[Any]:
    return _tuples(st.builds(Channel, feed=any_of(["", *feeds]), state=any_of(["ok", "ok", "failed"])), most)


def _amplifiers(draw: Draw, name: str, models: Any, circuits: list[str], feeds: list[str]) -> Amplifier:
    model = _one(draw, models)
    return Amplifier(
        id=name,
        model=model.id,
        unit=draw(whole(1, 40)),
        circuit=draw(any_of(["", *circuits])),
        mode=draw(_modes(model.channels)),
        channels=draw(_channels(tuple(feeds), model.channels)),
    )


def _sockets(draw: Draw, name: str, connectors: Any, outputs: list[str]) -> Socket:
    connector = _one(draw, connectors)
    pole = any_of(["", *outputs, *(f"-{output}" for output in outputs)])
    return Socket(id=name, connector=connector.id, poles=draw(_tuples(pole, connector.pole_pairs)))


def _racks(draw: Draw, equipment: Equipment, circuits: list[str], feeds: list[str]) -> tuple[Rack, ...]:
    racks = tuple(
        Rack(
            id=rack,
            name=draw(texts()),
            height=draw(whole(1, 48)),
            amplifiers=tuple(
                _amplifiers(draw, name, equipment.amplifiers, circuits, feeds)
                for name in _names(draw, f"A{r}-", 0, 3)
            ),
        )
        for r, rack in enumerate(_names(draw, "R", 0, 3))
    )
    channels = {model.id: model.channels for model in equipment.amplifiers}
    outputs = [
        f"{amplifier.id}.{c + 1}"
        for rack in racks
        for amplifier in rack.amplifiers
        for c in range(channels[amplifier.model])
    ]
    return tuple(
        Rack(
            id=rack.id,
            name=rack.name,
            height=rack.height,
            amplifiers=rack.amplifiers,
            sockets=tuple(
                _sockets(draw, name, equipment.connectors, outputs) for name in _names(draw, f"S{r}-", 0, 3)
            ),
        )
        for r, rack in enumerate(racks)
    )


@functools.cache
def _pole_maps(near: int, most: int) -> st.SearchStrategy[Any]:
    return st.just(()) | _tuples(whole(1, near), most)


_orders = functools.cache(lambda count: st.permutations(range(count)))


def _in_any_order(draw: Draw, things: Sequence[T]) -> tuple[T, ...]:
    return tuple(things[place] for place in draw(_orders(len(things))))


def _lines(
    draw: Draw, equipment: Equipment, racks: tuple[Rack, ...], cabinets: tuple[Cabinet, ...]
) -> tuple[Line, ...]:
    """Trees: a cabinet is fed from a socket, or from a cabinet before it, or by nothing."""
    pairs = {entry.id: entry.pole_pairs for entry in equipment.connectors}
    connector = {entry.id: entry.connector for entry in equipment.loudspeakers}
    ends = {socket.id: pairs[socket.connector] for rack in racks for socket in rack.sockets}
    lines = []
    for i, cabinet in enumerate(cabinets):
        far = pairs[connector[cabinet.model]]
        source = draw(any_of(["", *ends, *ends]))
        if source:
            cable = _one(draw, equipment.cables)
            cores = draw(whole(1, cable.cores // 2))
            carried = cable.cores // (2 * cores)
            poles = draw(_pole_maps(ends[source], min(carried, far)))
            length = draw(quantities(units.Length))
            name = f"L{i}{draw(any_of(ID_ENDS))}"
            lines.append(
                Line(
                    id=name,
                    source=source,
                    to=cabinet.id,
                    cable=cable.id,
                    length=length,
                    poles=poles,
                    cores_per_pole=cores,
                )
            )
        ends[cabinet.id] = far
    return _in_any_order(draw, lines)


def _cabinets(draw: Draw, equipment: Equipment, most: int) -> tuple[Cabinet, ...]:
    found = []
    for name in _names(draw, "C", 0, most):
        model = _one(draw, equipment.loudspeakers)
        found.append(
            Cabinet(
                id=name,
                model=model.id,
                wiring=draw(any_of(["", *model.wirings])),
                priority=draw(whole(1, 9)),
                position=draw(texts()),
                muted=draw(_either),
            )
        )
    return tuple(found)


@functools.lru_cache(10_000)
def _spares(cables: tuple[str, ...], amplifiers: tuple[str, ...]) -> st.SearchStrategy[Any]:
    """Cables of a length and amplifiers, none listed twice."""
    count = whole(0, 999)
    cable = st.builds(Spare, cable=any_of(cables), length=quantities(units.Length), count=count)
    amplifier = st.builds(Spare, amplifier=any_of(amplifiers), count=count)
    return st.lists(cable | amplifier, max_size=3, unique_by=lambda spare: spare.id).map(tuple)


@functools.lru_cache(10_000)
def _stock(cables: tuple[str, ...]) -> st.SearchStrategy[Any]:
    """Cables that the company owns, none listed twice."""
    owned = st.builds(Stock, cable=any_of(cables), length=quantities(units.Length), count=whole(0, 999))
    return st.lists(owned, max_size=3, unique_by=lambda each: (each.cable, each.length.value)).map(tuple)


_moments = st.just("") | st.datetimes(datetime(2000, 1, 1)).map(lambda moment: f"{moment:%Y-%m-%d %H:%M:%S}")
_formerly = optional(st.builds(FormerReading, ohms=any_of(["open", "5.9 ohm"]), when=_moments))
_some_of = functools.cache(lambda count: st.lists(whole(0, count - 1), unique=True, max_size=3))
_leads = quantities(units.Resistance).filter(lambda leads: leads.value <= 20)


def _readings(draw: Draw, lines: tuple[Line, ...], cabinets: tuple[Cabinet, ...]) -> tuple[Reading, ...]:
    """Readings of the meter check, one for a pole pair at most."""
    places = [(line, pair) for line in lines for pair in (1, 2)]
    models = {cabinet.id: cabinet.model for cabinet in cabinets}
    chosen = [places[place] for place in draw(_some_of(len(places)))] if places else []
    return tuple(
        Reading(
            line=line.id,
            model=models[line.to],
            cable=line.cable,
            length=line.length,
            pair=pair,
            ohms=draw(any_of(["", "open", "5.9 ohm", "4R7", "120 mohm", "0 Ω"])),
            lead_resistance=draw(_leads),
            polarity=draw(any_of(["", "yes", "no"])),
            heard=draw(any_of(["", "yes", "no"])),
            heard_from=draw(_tuples(any_of([cabinet.id for cabinet in cabinets]), 2)),
            when=draw(_moments),
            note=draw(texts()),
            coil_temperature=draw(optional(quantities(units.Temperature))),
            last=draw(_formerly),
            sweep=draw(any_of([(), ((20.0, 6.5, -12.5), (31.5, 41.0, 0.0), (20e3, 1e6, 89.0))])),
            behind=draw(any_of([None, (), tuple(models)[:2]])),
        )
        for line, pair in chosen
    )


@functools.cache
def _steps() -> st.SearchStrategy[Any]:
    kinds = any_of(["check", "turn down", "move", "start", "turn up"])
    step = st.builds(
        Step, kind=kinds, words=texts(), where=texts(), at=_tuples(texts(), 2), quiet=texts(), done=_either
    )
    return _tuples(step, 3)


def _nights(draw: Draw, baseline: Baseline) -> tuple[Night, ...]:
    """A night, with some of the rig's tables as they were."""
    if draw(any_of([0, 0, 1])) == 0:
        return ()
    line = _one(draw, [None, *baseline.lines])
    move = Rewiring(kind="line", at=draw(texts()), old=draw(texts()), new=draw(texts()), line=line)
    lists = tuple(
        NightList(
            id=str(number),
            title=draw(texts()),
            failed=draw(_tuples(texts(), 2)),
            when=draw(texts()),
            moves=_one(draw, [None, (), (move,)]),
            steps=draw(_steps()),
            returns=draw(_either),
        )
        for number in range(draw(any_of([1, 2])))
    )
    return (Night(baseline=baseline if draw(_either) else Baseline(), lists=lists),)


@functools.cache
def supply_cables() -> st.SearchStrategy[SupplyCable]:
    """Of any length and size, laid in any way."""
    laid: list[dict[str, Any]] = [
        {},
        {"laid": "drum", "layers": 2},
        {"laid": "grouped", "grouped": 3},
        {"laid": "conduit"},
    ]
    return st.builds(
        lambda how, **more: SupplyCable(**how, **more),
        st.sampled_from(laid),
        length=quantities(units.Length),
        size=quantities(units.ConductorSize),
        conductor_class=any_of(["", "cord", "60 degC", "90 degC", "fixed"]),
        earth=optional(quantities(units.ConductorSize)),
        max_current=optional(quantities(units.Current)),
    )


def _boards(draw: Draw) -> tuple[Board, ...]:
    """A tree of boards: each is fed from one before it, or from the supply, and has all the phases of that."""
    found: list[Board] = []
    for name in _names(draw, "D", 0, 2):
        found.append(
            Board(
                id=name,
                source=draw(any_of(["", *(board.id for board in found)])),
                rating=draw(optional(quantities(units.Current))),
                curve=draw(any_of(["B", "C", "D"])),
                neutral=draw(optional(quantities(units.Current))),
                phase=draw(any_of(["", "L1-L2-L3"])),
                rcd=draw(optional(quantities(units.ResidualCurrent))),
                supply_cable=draw(optional(supply_cables())),
                state=draw(any_of(["ok", "ok", "failed"])),
            )
        )
    return tuple(found)


_sizes = st.builds(lambda power: {"power": power}, quantities(units.Power)) | st.builds(
    lambda current: {"current": current}, quantities(units.Current)
)
_shares = st.floats(0.05, 1)
_measured = optional(st.builds(Measured, current=quantities(units.Current)))


def _loads(draw: Draw, circuits: list[str]) -> tuple[Load, ...]:
    """Loads with a power or a current."""
    return tuple(
        Load(
            id=name,
            name=draw(texts()),
            circuit=draw(any_of(["", *circuits])),
            power_factor=draw(_shares),
            leakage=draw(optional(quantities(units.ResidualCurrent))),
            inrush=draw(optional(quantities(units.Current))),
            state=draw(any_of(["ok", "ok", "failed"])),
            **draw(_sizes),
        )
        for name in _names(draw, "LOAD", 0, 2)
    )


@functools.cache
def venues() -> st.SearchStrategy[Venue]:
    """Some told of, some not."""
    return st.just(Venue()) | st.builds(Venue, name=texts(), date=texts(), contacts=texts())


@functools.cache
def supplies() -> st.SearchStrategy[Supply]:
    """The mains of a venue, or none told."""
    return st.just(Supply()) | st.builds(
        Supply,
        voltage=quantities(units.Voltage),
        frequency=quantities(units.Frequency),
        rules=any_of(["iec", "us"]),
        ambient=quantities(units.Temperature),
        phases=st.just(3),
        rating=optional(quantities(units.Current)),
        curve=any_of(["B", "C", "D"]),
        neutral=optional(quantities(units.Current)),
        source_impedance=optional(quantities(units.Resistance)),
        generator=optional(quantities(units.ApparentPower)),
        generator_power_factor=st.floats(0.1, 1),
        measured_duty=optional(st.floats(0.125, 1)),
    )


@functools.cache
def targets() -> st.SearchStrategy[Targets]:
    """What a user accepts, or what is accepted where nobody says."""
    duty = st.floats(0.01, 1)
    return st.just(Targets()) | st.builds(
        Targets,
        damping_factor=st.floats(0.1, 1000) | whole(1, 100).map(float),
        cable_loss=quantities(units.Level),
        programme_duty=duty,
        heavy_duty=duty,
    )


@st.composite
def rigs(draw: Draw, cabinets: int = 6) -> Rig:
    """Any rig that keeps every rule, of so many cabinets at most."""
    equipment = equipments(draw)
    boards = _boards(draw)
    circuits = tuple(
        Circuit(
            id=name,
            board=draw(any_of(["", *(board.id for board in boards)])),
            phase=draw(any_of(["L1", "L2", "L3", "L1-L2", "L1-L2-L3"])),
            neutral=draw(optional(quantities(units.Current))),
            rcd=draw(optional(quantities(units.ResidualCurrent))),
            measured=draw(_measured),
            breaker=draw(quantities(units.Current)),
            curve=draw(any_of(["B", "C", "D"])),
            state=draw(any_of(["ok", "ok", "failed"])),
            supply_cable=draw(optional(supply_cables())),
        )
        for name in _names(draw, "P", 0, 2)
    )
    feeds = tuple(
        Feed(
            id=name,
            band=draw(_pair(units.Frequency)),
            polarity=draw(any_of(["normal", "inverted"])),
            limiter_rms=draw(optional(quantities(units.LimiterSetting))),
            limiter_peak=draw(optional(quantities(units.LimiterSetting))),
        )
        for name in _names(draw, "feed", 0, 3)
    )
    racks = _racks(draw, equipment, [c.id for c in circuits], [f.id for f in feeds])
    placed = _cabinets(draw, equipment, cabinets)
    lines = _lines(draw, equipment, racks, placed)
    cables = tuple(entry.id for entry in equipment.cables)
    spares = draw(_spares(cables, tuple(entry.id for entry in equipment.amplifiers)))
    baseline = Baseline(racks=racks, lines=lines, cabinets=placed, spares=spares)
    return Rig(
        name=draw(texts()),
        notes=draw(texts()),
        venue=draw(venues()),
        supply=draw(supplies()),
        targets=draw(targets()),
        wet=draw(_either),
        boards=boards,
        circuits=circuits,
        loads=_loads(draw, [c.id for c in circuits]),
        feeds=feeds,
        racks=racks,
        lines=lines,
        cabinets=_in_any_order(draw, placed),
        spares=spares,
        stock=draw(_stock(cables)),
        readings=_readings(draw, lines, placed),
        night=_nights(draw, baseline),
        equipment=equipment,
    )
