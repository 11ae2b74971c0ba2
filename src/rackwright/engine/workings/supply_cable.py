"""The workings of a supply cable: what it carries, and what flows when its far end is shorted."""

from collections.abc import Mapping

from rackwright.engine.mains.cable_capacity import conductor_temperature
from rackwright.engine.mains.cables import Cable, laying_of, loop_of
from rackwright.engine.workings.amplifier import Explainer, Subject, band_of
from rackwright.engine.workings.cable import core_of
from rackwright.engine.workings.steps import COPPER, RIG, Step, number, operand, stated
from rackwright.model.mains import Supply


def _cable(of: Subject) -> Cable:
    return of.rig.cables[of.id]


def _carries(of: Subject) -> list[Step]:
    cable = _cable(of)
    capacity, steps = cable.capacity, []
    loaded = "two" if cable.loaded == 2 else "three"
    for rating in reversed(capacity.ratings[:1] + capacity.ratings[1:][-1:]):
        words = f"{rating.cable}, {cable.cable.size}, {loaded} loaded conductors"
        steps.append(Step(words, "as stated" if rating.source == RIG else "from the table", operand(rating.base, "A"),
                          rating.base, "A", rating.source))  # fmt: skip
        for factor in (*rating.factors, *((capacity.drum,) if capacity.drum else ())):
            before = steps[-1]
            steps.append(
                Step(
                    f"With {factor.words}",
                    "I · factor",
                    f"{before.operand} · {number(factor.value)}",
                    before.value * factor.value,
                    "A",
                    factor.source,
                )
            )
    return steps


def _upstream(of: Subject) -> list[Step]:
    """The devices further up whose band that fault reaches too: any of them may let go first. By UL 489 there is no band."""
    cable, index = _cable(of), of.rig.index
    if cable.rules == "us":
        return []
    above = index.boards_above(index.circuits[of.id] if of.id in index.circuits else index.boards[of.id])
    devices = [(board.id, board.rating, board.curve) for board in above]
    steps = []
    for name, rating, curve in (*devices, ("the intake", cable.supply.rating, cable.supply.curve)):
        if rating is not None:
            step = band_of(rating, curve)
            if step.value < max(cable.fault.earth, cable.fault.neutral):
                words = f"Where {name}, {cable.supply.device(rating, curve)}, may let go too, perhaps first"
                steps.append(step._replace(what=words))
    return steps


def _fault(of: Subject) -> list[Step]:
    cable = _cable(of)
    supply = cable.supply
    steps = _upstream(of)
    loops: list[Step] = []
    for each in (*cable.way, cable.cable):
        sizes = (each.size, each.earth or each.size)
        line, earth = (core_of("the supply cable", size) for size in sizes)
        warm = conductor_temperature(laying_of(each))
        steps += [line] if sizes[0] == sizes[1] else [line, earth]
        loops.append(
            Step(
                f"Supply cable of {each.size}, line and earth, as warm as its class allows",
                "R = l · (r + r of the earth) · (1 + 0.00393 (T − 20))",
                f"{operand(each.length.value, 'm')} · ({line.operand} + {earth.operand}) · (1 + 0.00393 · ({number(warm)} − 20))",
                loop_of(each).line + loop_of(each).earth,
                "Ω",
                f"{line.source}; {COPPER}",
            )
        )
        steps.append(loops[-1])
    source = supply.source_impedance
    ohms = " + ".join([f"{source}" if source else "0 Ω", *(step.operand for step in loops)])
    best = "" if source else ", at best: no source impedance is stated"
    return [
        *steps,
        Step(
            f"Fault to earth at the far end of {of.id}{best}; line to neutral {operand(cable.fault.neutral, 'A')}",
            "I = 0.95·V / (Z + ΣR)",
            f"0.95 · {operand(of.voltage, 'V')} / ({ohms})",
            cable.fault.earth,
            "A",
            f"C_min of IEC 60909-0, from memory; V: {stated(of.voltage, Supply().voltage.value)}",
        ),
    ]


SUPPLY_CABLE: Mapping[str, Explainer] = {"carries": _carries, "fault_current": _fault}
