"""The mains sheet: what boards and circuits carry, their cables, the order to switch on, and a record to fill in."""

from collections.abc import Iterable, Iterator, Mapping

from rackwright.engine import cautions, mains, outage
from rackwright.engine.assess import Assessed
from rackwright.engine.demand import (
    SUPPLY,
    BoardResult,
    CircuitResult,
    Edge,
    LineCurrent,
    PhaseResult,
    Plugged,
    SupplyResult,
)
from rackwright.model.mains import Board, Circuit, Supply
from rackwright.papers.document import Drawing, Sheet, Table, Words
from rackwright.papers.mains_tree import mains_tree
from rackwright.papers.marks import ON_MAINS, Marks, assumed_words, marked
from rackwright.papers.phrases import PLANNING, listed
from rackwright.units import NOTHING, percent, reading, short

_PHASES = {1: "1-phase", 2: "split phase", 3: "3-phase"}


def mains_sheet(assessment: Assessed) -> Sheet:
    """Circuits with their loading, then the switch-on sequence."""
    marks = Marks(assessment)
    carried = circuit_table(assessment)
    sequence = Table(
        name="switch-on",
        heading="Switch on boards, then these, some seconds apart; processor and desk before any amplifier",
        heads=("step", "circuit", "switch on together", "inrush A rms", "may trip from A"),
        right=frozenset({"step", "inrush A rms", "may trip from A"}),
        rows=tuple(_sequence(assessment, marks)),
    )
    wrong = (*marks.supply(), *marks.warnings(SUPPLY))
    stops = tuple(Words(f"Supply {mark}", True) for mark in wrong)
    return Sheet(
        name="mains",
        title="Mains",
        blocks=(
            PLANNING,
            *assumed_words(assessment, ON_MAINS),
            *stops,
            *_supply(assessment),
            *_without(assessment, marks),
            Drawing(mains_tree(assessment), ()),
            *_points(assessment, marks),
            carried,
            *_cables(assessment, marks),
            sequence,
            SWITCHING_OFF,
            RECORD,
            _record(assessment),
        ),
    )


def circuit_table(assessment: Assessed) -> Table:
    """What each circuit carries, and what hangs on it."""
    index, marks = assessment.index, Marks(assessment)
    figures = ("A", "A hard", "%", "% hard", "drop %", "drop % hard")
    return Table(
        name="circuits",
        heading="Circuits: at programme, and driven hard",
        heads=("circuit", "phase", "breaker", f"{index.rig.supply.guard} leaks mA", *figures, "on it"),
        right=frozenset(figures),
        rows=tuple(
            (
                marked(c.id, (*marks.circuit(c.id), *marks.warnings(c.id))),
                c.phase,
                index.rig.supply.device(index.circuits[c.id].breaker, index.circuits[c.id].curve),
                _guarded(assessment, index.circuits[c.id]),
                *_carried(c),
                listed(
                    [
                        *(_with_rack(assessment, marks, name) for name in c.amplifiers),
                        *_loads(assessment, c),
                    ]
                ),
            )
            for c in assessment.circuits.values()
        ),
    )


SWITCHING_OFF = Words(f"Switch off amplifiers first, boards last. {cautions.HOT_LIMITERS}")
RECORD = Words(f"{cautions.TESTED} Measured A: with a clamp meter, over a minute of the show.", leads=True)


def _supply(assessment: Assessed) -> Iterator[Words]:
    """What there is, what all of it takes, and what cables and faults are counted with."""
    supply, result = assessment.index.rig.supply, assessment.supply
    rated = f", intake {supply.device(supply.rating, supply.curve)}" if supply.rating else ""
    yield Words(
        f"Supply {supply.voltage}, {supply.frequency}, {_PHASES[result.phases]}{rated}. Everything: "
        f"{reading(result.apparent, 'VA')} at programme, {reading(result.apparent_heavy, 'VA')} driven hard."
    )
    if result.generator_power is not None:
        power = reading(result.generator_power / 1000, "kW")
        real, heavy = map(percent, (result.generator_real_loading, result.generator_real_loading_heavy))
        yield Words(
            f"Generator {supply.generator}, {power}: its most loaded phase {percent(result.generator_loading)} % at "
            f"programme, {percent(result.generator_loading_heavy)} % driven hard; of its kW {real} and {heavy} %."
        )
        yield Words(cautions.GENERATOR, True)
    if assessment.cables:
        impedance = (
            f"faults with the loop impedance of {supply.source_impedance} stated at the intake"
            if supply.source_impedance
            else "faults at best, for no loop impedance is stated at the intake"
        )
        yield Words(f"Cables are counted in air of {supply.ambient}, {impedance}.")


def _points(assessment: Assessed, marks: Marks) -> Iterator[Table]:
    """Intake and boards, each board under what feeds it; none where the rig states nothing of them."""
    index, supply = assessment.index, assessment.supply
    if not assessment.boards and supply.rating is None:
        return
    phases = index.supply_phases
    amperes = tuple(f"{each} A" for each in (*phases, "N") if each != "N" or len(phases) > 1)
    intake = _point(
        "intake", "", index.rig.supply, index.rig.supply, supply, (*assessment.phases.values(),), amperes
    )
    boards = [
        _point(
            marked(board.id, (*marks.board(board.id), *marks.warnings(board.id))),
            board.source or "intake",
            index.rig.supply,
            index.boards[board.id],
            board,
            board.lines,
            amperes,
        )
        for board in assessment.boards.values()
    ]
    rows = [(*row, _guarded(assessment, thing)) for row, thing in zip(boards, index.rig.boards, strict=True)]
    yield Table(
        name="boards",
        heading="Intake and boards: amperes of each phase and of the neutral, at most, programme/driven hard",
        heads=("place", "fed from", "rating", *amperes, "%", "drop %", f"{index.rig.supply.guard} leaks mA"),
        right=frozenset((*amperes, "%", "drop %")),
        rows=((*intake, NOTHING), *rows),
    )


def _point(
    name: str,
    source: str,
    supply: Supply,
    thing: Supply | Board,
    point: SupplyResult | BoardResult,
    lines: Iterable[LineCurrent | PhaseResult],
    heads: tuple[str, ...],
) -> tuple[str, ...]:
    """What a point of the tree carries; a dead board nothing."""
    live = not isinstance(point, BoardResult) or point.live
    carried = {f"{line.id} A": (line.programme_current, line.heavy_current) for line in lines}
    if point.neutral is not None and point.neutral_heavy is not None:
        carried["N A"] = point.neutral, point.neutral_heavy
    drops = (point.drop, point.drop_heavy) if isinstance(point, BoardResult) else (None, None)
    return (
        name,
        source or NOTHING,
        supply.device(thing.rating, thing.curve) or NOTHING,
        *(_both(*carried[head]) if live and head in carried else NOTHING for head in heads),
        _both(*(None if share is None else 100 * share for share in (point.loading, point.loading_heavy)))
        if live
        else NOTHING,
        _both(*drops) if live else NOTHING,
    )


def _both(programme: float | None, heavy: float | None) -> str:
    return NOTHING if programme is None and heavy is None else f"{short(programme)}/{short(heavy)}"


def _guarded(assessment: Assessed, thing: Board | Circuit) -> str:
    """What leaks behind its RCD, of the rating; where it has none, whose it is behind."""
    if rcd := assessment.rcds.get(thing.id):
        return f"{short(1000 * rcd.leakage)} of {short(1000 * rcd.rating)}"
    above = next((board.id for board in assessment.index.boards_above(thing) if board.rcd), "")
    return f"at {above}" if above else "none"


def _cables(assessment: Assessed, marks: Marks) -> Iterator[Table]:
    """The supply cables that are stated, with what protects them."""
    index = assessment.index
    rows = []
    things: tuple[Board | Circuit, ...] = (*index.rig.boards, *index.rig.circuits)
    for thing in things:
        cable, checked = thing.supply_cable, assessment.cables.get(thing.id)
        if cable is None:
            continue
        device = thing.rating if isinstance(thing, Board) else thing.breaker
        mark = marks.board(thing.id) if isinstance(thing, Board) else marks.circuit(thing.id)
        fault = checked.fault if checked else None
        rows.append(
            (
                marked(thing.id, mark),
                f"{cable.length}",
                f"{cable.size}",
                cable.made_and_laid or NOTHING,
                index.rig.supply.device(device, thing.curve) or NOTHING,
                short(checked.carries) if checked else NOTHING,
                *map(short, (fault.earth, fault.neutral) if fault else (None, None)),
                short(checked.band[1]) if checked and checked.band else NOTHING,
            )
        )
    if rows:
        figures = ("carries A", "fault A, earth", "neutral", "trips at once A")
        yield Table(
            name="cables",
            heading="Supply cables: what they carry as laid, and what flows when the far end is shorted",
            heads=("to", "length", "size", "made, laid", "breaker", *figures),
            right=frozenset(("length", *figures)),
            rows=tuple(rows),
        )


def _record(assessment: Assessed) -> Table:
    """Empty columns for what is tested before plugging in, and measured in the show; what can't be tested is crossed out."""
    rig, index = assessment.index.rig, assessment.index
    phases = ("rotation",) if len(index.supply_phases) == 3 else ()
    trips = f"{rig.supply.guard} trips, ms"
    tested = (trips, "earth", "loop Ω", "insulation", "polarity", *phases)
    blank = ("V before", *tested, "who, when", "measured A")
    expected = index.rig.supply.source_impedance
    rows = [("intake", short(expected.value) if expected else NOTHING, *("",) * len(blank))]
    things: tuple[Board | Circuit, ...] = (*rig.boards, *rig.circuits)
    for thing in things:
        crossed = {trips: thing.rcd is None, "rotation": len(index.phases_at(thing)) < 3}
        cable = assessment.cables.get(thing.id)
        taken = thing.measured if isinstance(thing, Circuit) else None
        known = {"measured A": f"{taken.current}" if taken else ""}
        loop = short(cable.fault.loop) if cable and not cable.fault.at_best else NOTHING
        cells = (NOTHING if crossed.get(head) else known.get(head, "") for head in blank)
        rows.append((thing.id, loop, *cells))
    return Table(
        name="record",
        heading="Test record and measured currents",
        heads=("place", "loop Ω, warm", *blank),
        right=frozenset(("loop Ω, warm",)),
        written=frozenset(blank),
        rows=tuple(rows),
    )


def _loads(assessment: Assessed, circuit: CircuitResult) -> Iterator[str]:
    """The other loads on a circuit, with what they are."""
    return (_load(assessment, name) for name in circuit.loads)


def _load(assessment: Assessed, name: str) -> str:
    told = assessment.index.loads[name].name
    return f"{name} ({told})" if told else name


def _without(assessment: Assessed, marks: Marks) -> Iterator[Words]:
    """The amplifiers without power: on no circuit, or on one that has failed."""

    def named(names: Iterable[str]) -> str:
        return ", ".join(_with_rack(assessment, marks, name) for name in names)

    if homeless := [a.id for a in assessment.amplifiers.values() if not a.circuit]:
        yield Words(f"On no circuit yet: {named(homeless)}.")
    for circuit in assessment.circuits.values():
        if not circuit.live:
            left = (
                f"; without power until plugged in elsewhere: {named(circuit.amplifiers)}"
                if circuit.amplifiers
                else ""
            )
            dead = outage.at(assessment.index, circuit.id)
            why = (
                "has FAILED"
                if dead is None or dead.at == circuit.id
                else f"is dead, for {dead.at} has FAILED"
            )
            yield Words(f"{circuit.id} {why}: switch nothing on there{left}.")


def _carried(circuit: CircuitResult) -> tuple[str, ...]:
    """What a circuit carries; one that has failed carries nothing."""
    if not circuit.live:
        return (NOTHING,) * 6
    return (
        *map(short, (circuit.programme_current, circuit.heavy_current)),
        *map(percent, (circuit.loading, circuit.loading_heavy)),
        *map(short, (circuit.drop, circuit.drop_heavy)),
    )


def _named(marks: Marks, circuit: CircuitResult) -> str:
    return marked(circuit.id, marks.circuit(circuit.id))


def _with_rack(assessment: Assessed, marks: Marks, amplifier: str) -> str:
    named = f"{amplifier}\u00a0({assessment.index.rack_of[amplifier].id})"
    return marked(named, marks.drawn(amplifier))


def _sequence(assessment: Assessed, marks: Marks) -> Iterator[tuple[str, ...]]:
    """Circuit after circuit, each in as few steps as its breaker allows, numbered through."""
    number = 0
    kinds: tuple[Mapping[str, Plugged], ...] = (assessment.working_loads, assessment.amplifiers)
    for things in kinds:
        for circuit in assessment.circuits.values():
            order = mains.switch_on(circuit, things)
            trips = _trips(circuit, order.edge)
            named = _named(marks, circuit)
            for names in order.groups:
                number += 1
                inrush = mains.group_inrush(names, things)
                yield f"{number}", named, _together(assessment, marks, names), short(inrush or None), trips
            for name in order.over:
                yield (
                    "ALONE: TRIPS",
                    named,
                    _together(assessment, marks, (name,)),
                    short(things[name].inrush),
                    trips,
                )


def _trips(circuit: CircuitResult, edge: Edge) -> str:
    """From where the first device on the way may trip, and which where it is not the circuit's own."""
    if circuit.inrush_limit is None:
        return NOTHING
    at = "" if edge.at == circuit.id else f" ({'intake' if edge.at == SUPPLY else edge.at})"
    return f"{short(edge.current)}{at}"


def _together(assessment: Assessed, marks: Marks, names: Iterable[str]) -> str:
    loads = assessment.index.loads
    return listed([_load(assessment, n) if n in loads else _with_rack(assessment, marks, n) for n in names])
