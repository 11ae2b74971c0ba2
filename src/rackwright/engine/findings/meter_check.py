"""Judgements on what the meter check found: what is wrong with a pole pair, not proved, or not what it was."""

import math
from collections.abc import Iterator

from rackwright.engine.finding import Finding
from rackwright.engine.findings.registry import Survey, judges_rig
from rackwright.engine.meter_check import Checked
from rackwright.units import reading


@judges_rig
def pair_wrong(survey: Survey) -> Iterator[Finding]:
    """A reading out of its limits, or a no."""
    for item in survey.wrong_readings:
        if item.status == "wrong":
            yield Finding("line-wrong", "stop", item.test.id, f"{item.test.id}{_found(item)}.", _todo(item))


@judges_rig
def pair_not_proved(survey: Survey) -> Iterator[Finding]:
    """Readings that two pairs with unlike drivers may both have, and nobody listened."""
    for item in survey.wrong_readings:
        if item.status == "not proved":
            told = f"{item.test.id} is {item.verdict}, by its reading."
            yield Finding("line-not-proved", "warn", item.test.id, told, item.proof)


@judges_rig
def pair_drifted(survey: Survey) -> Iterator[Finding]:
    """A reading within its limits, and yet not what it was."""
    for item in survey.wrong_readings:
        if item.status == "drifted" and item.drifted:
            said, todo = item.drifted
            told = f"{item.test.id}: it {said}."
            yield Finding("line-drifted", "warn", item.test.id, told, f"{todo[0].upper()}{todo[1:]}.")


def _found(item: Checked) -> str:
    said = item.judgement
    if said is None or said.as_expected:
        return f": {item.verdict}"
    shown = "open" if math.isinf(said.ohms) else reading(said.ohms, "Ω")
    return f" reads {shown} where {item.test.expected} is expected: {item.verdict}"


def _todo(item: Checked) -> str:
    said = item.judgement
    if said is not None and not said.as_expected and said.next_test is not None:
        return f"Don't power it. {said.next_test.words}"
    return "Don't power it. Look at its plugs and its cabinet, then test it again."
