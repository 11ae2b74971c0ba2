"""Judgements on what a finger may touch: terminals, connectors, and two contacts within one hand's reach."""

from collections.abc import Iterator

from rackwright.engine import cautions, limits, touch
from rackwright.engine.channel import Branch
from rackwright.engine.findings.registry import Survey, judges_branch, judges_rig
from rackwright.engine.results import Finding, TouchResult
from rackwright.units import reading


@judges_branch
def touch_terminals(branch: Branch) -> Iterator[Finding]:
    """Exposed posts of a channel that is fed or wired; a channel with neither carries nothing."""
    if branch.feed is None and not branch.taps:
        return
    for result in branch.touch:
        if result.contact == "terminals" and result.exposed:
            yield from _touchable(
                result,
                "on exposed posts",
                "Cover the posts, or use a shrouded connector; then say so in its equipment entry",
            )


@judges_rig
def touch_connectors(survey: Survey) -> Iterator[Finding]:
    for result in survey.exposed:
        if result.contact != "terminals":
            yield from _touchable(
                result,
                "on contacts that are not shrouded",
                "Change it, and the plug that mates with it, for a shrouded one",
            )


def _touchable(result: TouchResult, where: str, remedy: str) -> Iterator[Finding]:
    if result.touch_class == "ES1":
        return
    limit = limits.touch_voltage(result.voltage)
    yield Finding(
        "touch-voltage",
        "stop" if result.touch_class == "ES3" else "warn",
        result.place,
        f"Voltage {where} of {result.place} reaches {reading(result.voltage, 'V')}, over the {limit.value:g} V of {limit.why}: {result.why}.",
        f"{remedy}. {cautions.POWER_DOWN}",
        result.voltage,
        limit,
    )


@judges_rig
def touch_between_contacts(survey: Survey) -> Iterator[Finding]:
    """One warning a panel: what is cried over everything is read by nobody."""
    pairs = touch.exposed_pairs(survey.index, survey.branches.values()) if survey.exposed else ()
    for pair in pairs:
        first, second = pair.first, pair.second
        limit = limits.touch_voltage(pair.voltage)
        yield Finding(
            "touch-between-contacts",
            "warn",
            pair.panel,
            f"Between {_contact(first)} and {_contact(second)}, both exposed on {pair.panel}, stand up to "
            f"{reading(pair.voltage, 'V')}, over the {limit.value:g} V of {limit.why}: {reading(first.voltage, 'V')} and "
            f"{reading(second.voltage, 'V')}, from two signals.",
            f"Cover them, or use shrouded connectors. {cautions.POWER_DOWN}",
            pair.voltage,
            limit,
        )


def _contact(pole: touch.Pole) -> str:
    return pole.channel if pole.place == pole.channel else f"{pole.channel} at {pole.place}"
