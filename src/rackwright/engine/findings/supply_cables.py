"""Judgements on supply cables: whether their breaker protects them, and trips at once on a fault at their far end."""

from collections.abc import Iterator

from rackwright.engine import limits, mains
from rackwright.engine.finding import Finding
from rackwright.engine.findings.registry import Survey, judges_rig
from rackwright.engine.mains.breaker import largest_made
from rackwright.engine.mains.cables import Cable
from rackwright.units import reading, told_apart

ELECTRICIAN = "Let a licensed electrician do it."


@judges_rig
def cable_unprotected(survey: Survey) -> Iterator[Finding]:
    """A breaker that lets through more than the cable behind it carries."""
    for cable in survey.cables.values():
        if cable.breaker is None:
            continue
        if not cable.capacity.ratings:
            yield _outside_the_tables(cable)
        elif grave := cable.protection:
            unroll = cable.capacity.protected_by(cable.breaker, 0.0) == "unroll"
            limit = limits.cable(cable.capacity, "lowest" if grave == "warn" or unroll else "highest")
            yield Finding(
                "cable-on-drum" if unroll else "cable-unprotected",
                grave,
                cable.id,
                f"The {reading(cable.breaker, 'A')} breaker of {cable.id} lets through more than its supply cable of "
                f"{cable.cable.size} carries, {_carries(cable)}"
                + (f"; {reading(cable.current, 'A')} flow at programme" if unroll else "")
                + ".",
                f"Unroll it: off the drum it carries {_range(*cable.capacity.unrolled)}."
                if unroll
                else _other_cable(cable),
                cable.breaker,
                limit,
            )


def _outside_the_tables(cable: Cable) -> Finding:
    return Finding(
        "cable-capacity-unknown",
        "note",
        cable.id,
        f"What the supply cable of {cable.id} carries is not known: no table here holds {cable.capacity.missing}.",
        "State its highest current from its data sheet, and let a licensed electrician check its breaker.",
    )


def _carries(cable: Cable) -> str:
    """How much, as it is laid, and by which tables."""
    capacity = cable.capacity
    by = " and ".join(dict.fromkeys((capacity.ratings[0].source, capacity.ratings[-1].source)))
    factors = [*capacity.ratings[0].factors, *((capacity.drum,) if capacity.drum else ())]
    under = f", {', '.join(factor.words for factor in factors)}" if factors else ""
    return f"{_range(capacity.lowest, capacity.highest)} ({by}{under})"


def _range(low: float, high: float) -> str:
    return reading(high, "A") if high - low < 0.05 else f"{reading(low, 'A')} to {reading(high, 'A')}"


def _other_cable(cable: Cable) -> str:
    size = cable.thicker()
    thicker = f"a supply cable of {size} or more" if size else "another supply cable"
    made = largest_made(cable.capacity.lowest, cable.rules)
    smaller = f", or have a breaker of {reading(made, 'A')} or less fitted" if made else ""
    return f"Use {thicker}{smaller}. {ELECTRICIAN}"


@judges_rig
def fault_current_low(survey: Survey) -> Iterator[Finding]:
    """A fault at the far end of a cable that its breaker may not trip on at once."""
    for cable in survey.cables.values():
        grave = cable.fault_severity
        if grave is None or cable.breaker is None or cable.band is None:
            continue
        lower, upper = cable.band
        sure = cable.fault.earth >= lower
        limit = limits.fault(upper if sure else lower, cable.breaker)
        best = "at best " if cable.fault.at_best else ""
        rated = f"{reading(cable.breaker, 'A')} {cable.curve} breaker"
        told, least = told_apart(cable.fault.earth, limit.value, "A")
        yield Finding(
            "fault-current-low",
            grave,
            cable.id,
            f"A fault to earth at the far end of {cable.id} draws {best}{told}, under the {least} "
            + (
                f"from which its {rated} is sure to trip at once"
                if sure
                else f"at which its {rated} may trip at once"
            )
            + f" ({limit.why}); line to neutral {reading(cable.fault.neutral, 'A')}.",
            _shorter(cable),
            cable.fault.earth,
            limit,
        )


def _shorter(cable: Cable) -> str:
    size = cable.thicker()
    thicker = f"a supply cable of {size} or more, or a shorter one" if size else "a shorter supply cable"
    covered = (
        f" The {cable.supply.guard} acts on faults to earth only."
        if cable.rcd is not None and cable.rcd <= mains.PERSONS
        else " Until then plug nothing in."
        if cable.fault_severity == "stop"
        else ""
    )
    return f"Use {thicker}, and have the loop impedance measured. {ELECTRICIAN}{covered}"
