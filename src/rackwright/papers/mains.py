"""The mains sheet: what boards and circuits carry, their cables, the order to switch on, and a record to fill in."""

from collections.abc import Iterable, Iterator, Mapping

from rackwright.engine import cautions, mains, outage
from rackwright.engine.assess import Assessed
from rackwright.engine.results import SUPPLY, CircuitResult, Edge, Plugged
from rackwright.model.mains import Board, Circuit
from rackwright.papers.document import Drawing, Sheet, Table, Words
from rackwright.papers.mains_tree import mains_tree
from rackwright.papers.marks import Marks, marked
from rackwright.papers.phrases import PLANNING, listed
from rackwright.units import NOTHING, percent, reading, short

_PHASES = {1: "1-phase", 2: "split phase", 3: "3-phase"}


def mains_sheet(assessment: Assessed) -> Sheet:
    """Circuits with their loading, then the switch-on sequence."""
    index, marks = assessment.index, Marks(assessment)
    figures = ("A", "A hard", "%", "% hard", "drop %", "drop % hard")
    carried = Table(
        name="circuits",
        heading="Circuits: at programme, and driven hard",
        heads=("circuit", "phase", "breaker", *figures, "on it"),
        right=frozenset(figures),
        rows=tuple(
            (
                _named(marks, c),
                c.phase,
                f"{index.circuits[c.id].curve} {index.circuits[c.id].breaker}",
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
    sequence = Table(
        name="switch-on",
        heading="Switch on boards, then these, some seconds apart; processor and desk before any amplifier",
        heads=("step", "circuit", "switch on together", "inrush A rms", "may trip from A"),
        right=frozenset({"step", "inrush A rms", "may trip from A"}),
        rows=tuple(_sequence(assessment, marks)),
    )
    supply = index.rig.supply
    stops = tuple(Words(f"Supply {mark}", True) for mark in marks.supply())
    told = Words(
        f"Supply {supply.voltage}, {supply.frequency}, {_PHASES[assessment.supply.phases]}. All amplifiers: "
        f"{reading(assessment.supply.apparent, 'VA')} at programme, {reading(assessment.supply.apparent_heavy, 'VA')} driven hard."
    )
    return Sheet(
        name="mains",
        title="Mains",
        blocks=(
            PLANNING,
            *stops,
            told,
            *_without(assessment, marks),
            Drawing(mains_tree(assessment), ()),
            *_boards(assessment, marks),
            carried,
            *_cables(assessment, marks),
            sequence,
            _record(assessment),
            RECORD,
        ),
    )


RECORD = Words(f"{cautions.TESTED} Measured A: with a clamp meter, over a minute of the show.")


def _boards(assessment: Assessed, marks: Marks) -> Iterator[Table]:
    """The boards, each under what feeds it; none where the rig names none."""
    index = assessment.index
    figures = ("A", "A hard", "%", "% hard", "RCD leaks mA")
    rows = []
    for board in assessment.boards.values():
        at, rcd = index.boards[board.id], assessment.rcds.get(board.id)
        full = (
            percent(share) if share is not None else NOTHING for share in (board.loading, board.loading_heavy)
        )
        leaks = f"{1000 * rcd.leakage:.0f} of {1000 * rcd.rating:.0f}" if rcd else NOTHING
        carries = (board.fullest, board.fullest_heavy) if board.live else (None, None)
        rows.append(
            (
                marked(board.id, marks.board(board.id)),
                board.source or "intake",
                "-".join(board.phases),
                f"{at.curve} {at.rating}" if at.rating else NOTHING,
                *map(short, carries),
                *(full if board.live else (NOTHING, NOTHING)),
                leaks,
            )
        )
    if rows:
        yield Table(
            name="boards",
            heading="Boards: amperes of the most loaded phase, at programme, and driven hard",
            heads=("board", "fed from", "phases", "rating", *figures),
            right=frozenset(figures),
            rows=tuple(rows),
        )


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
        laid = ", ".join(filter(None, (cable.conductor_class, cable.laid)))
        mark = marks.board(thing.id) if isinstance(thing, Board) else marks.circuit(thing.id)
        rows.append(
            (
                marked(thing.id, mark),
                f"{cable.length}",
                f"{cable.size}",
                laid or NOTHING,
                f"{device}" if device else NOTHING,
                short(checked.carries) if checked else NOTHING,
                short(checked.fault_current) if checked else NOTHING,
            )
        )
    if rows:
        yield Table(
            name="cables",
            heading="Supply cables: what they carry as laid, and what flows when the far end is shorted",
            heads=("to", "length", "size", "made, laid", "breaker", "carries A", "fault A"),
            right=frozenset(("length", "carries A", "fault A")),
            rows=tuple(rows),
        )


def _record(assessment: Assessed) -> Table:
    """Empty columns for what is tested before plugging in, and measured in the show."""
    rig = assessment.index.rig
    phases = ("rotation",) if len(assessment.index.supply_phases) == 3 else ()
    blank = ("V before", "RCD", "earth", "polarity", *phases, "who, when", "measured A")
    places = ("intake", *(board.id for board in rig.boards), *(circuit.id for circuit in rig.circuits))
    return Table(
        name="record",
        heading="Test record and measured currents",
        heads=("place", *blank),
        written=frozenset(blank),
        rows=tuple((place, *("",) * len(blank)) for place in places),
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
    return marked(named, marks.amplifier(amplifier))


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
