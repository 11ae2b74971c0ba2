"""The mains sheet: what each circuit carries, and in which order to switch on."""

from collections.abc import Iterable, Iterator

from rackwright.engine import mains, outage
from rackwright.engine.assess import Assessed
from rackwright.engine.results import CircuitResult
from rackwright.papers.document import Sheet, Table, Words
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
        heads=("circuit", "phase", "breaker", *figures, "amplifiers"),
        right=frozenset(figures),
        rows=tuple(
            (
                _named(marks, c),
                c.phase,
                f"{index.circuits[c.id].curve} {index.circuits[c.id].breaker}",
                *_carried(c),
                listed(_with_rack(assessment, marks, name) for name in c.amplifiers),
            )
            for c in assessment.circuits.values()
        ),
    )
    sequence = Table(
        name="switch-on",
        heading="Processor and desk first. Then one step after the other; wait some seconds between them",
        heads=("step", "circuit", "switch on together", "inrush A", "breaker may trip from A"),
        right=frozenset({"step", "inrush A", "breaker may trip from A"}),
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
        blocks=(PLANNING, *stops, told, *_without(assessment, marks), carried, sequence),
    )


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
    for circuit in assessment.circuits.values():
        order = mains.switch_on(circuit, assessment.amplifiers)
        for names in order.groups:
            number += 1
            yield _step(assessment, marks, circuit, f"{number}", names)
        yield from (_step(assessment, marks, circuit, "ALONE: TRIPS", (name,)) for name in order.over)


def _step(
    assessment: Assessed, marks: Marks, circuit: CircuitResult, step: str, names: tuple[str, ...]
) -> tuple[str, ...]:
    inrush = mains.group_inrush(names, assessment.amplifiers)
    told = listed([_with_rack(assessment, marks, name) for name in names])
    return (step, _named(marks, circuit), told, short(inrush), short(circuit.inrush_limit))
