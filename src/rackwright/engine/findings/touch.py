"""Judgements on what a finger may touch: terminals, connectors, and two contacts within one hand's reach."""

from collections.abc import Iterator

from rackwright.engine import cautions, limits, touch
from rackwright.engine.demand import SUPPLY
from rackwright.engine.finding import Finding
from rackwright.engine.findings.registry import Survey, judges_rig
from rackwright.units import reading, told_apart


@judges_rig
def touch_voltage(survey: Survey) -> Iterator[Finding]:
    """Contacts that a finger reaches; the posts of a channel with neither feed nor wire carry nothing."""
    for result in survey.exposed:
        branch, posts = survey.branches[result.channel], result.contact == "terminals"
        limit = limits.touch_voltage(result.voltage, survey.index.rig.wet)
        if (posts and branch.feed is None and not branch.taps) or not limit.broken_by(result.voltage):
            continue
        where = "on exposed posts" if posts else "on contacts that are not shrouded"
        remedy = (
            "Cover the posts, or use a shrouded connector; then say so in its equipment entry"
            if posts
            else "Change it, and the plug that mates with it, for a shrouded one"
        )
        told, most = told_apart(result.voltage, limit.value, "V")
        yield Finding(
            "touch-voltage",
            "stop" if result.touch_class == "ES3" else "warn",
            result.place,
            f"Voltage {where} of {result.place} reaches {told}, over the {most} of "
            f"{limit.why}: {result.why}.",
            f"{remedy}. {cautions.POWER_DOWN}",
            result.voltage,
            limit,
        )


@judges_rig
def touch_wet(survey: Survey) -> Iterator[Finding]:
    """One warning for the rig: in the wet a shrouded connector is safe as long as nobody unmates it."""
    if not survey.index.rig.wet or not survey.index.sockets:
        return
    worst = max(
        (b.touch[0] for b in survey.branches.values() if b.taps and b.touch),
        key=lambda t: t.voltage,
        default=None,
    )
    limit = limits.touch_voltage(0.0, True)
    if worst is None or not limit.broken_by(worst.voltage):
        return
    told, most = told_apart(worst.voltage, limit.value, "V")
    yield Finding(
        "touch-wet",
        "warn",
        SUPPLY,
        f"The rig stands outdoors or in the damp, and connectors carry up to {told} ({worst.channel}), over "
        f"the {most} of {limit.why}.",
        f"Keep every connector mated and off wet ground, and power down before unmating any. {cautions.POWER_DOWN}",
        worst.voltage,
        limit,
    )


@judges_rig
def touch_between_contacts(survey: Survey) -> Iterator[Finding]:
    """One warning a panel: what is cried over everything is read by nobody."""
    pairs = touch.exposed_pairs(survey.index, survey.branches.values()) if survey.exposed else ()
    for pair in pairs:
        first, second = pair.first, pair.second
        limit = limits.touch_voltage(pair.voltage)
        told, most = told_apart(pair.voltage, limit.value, "V")
        yield Finding(
            "touch-between-contacts",
            "warn",
            pair.panel,
            f"Between {_contact(first)} and {_contact(second)}, both exposed on {pair.panel}, there are up to "
            f"{told}, over the {most} of {limit.why}: {reading(first.voltage, 'V')} and "
            f"{reading(second.voltage, 'V')}, from two signals.",
            f"Cover them, or use shrouded connectors. {cautions.POWER_DOWN}",
            pair.voltage,
            limit,
        )


def _contact(pole: touch.Pole) -> str:
    return pole.channel if pole.place == pole.channel else f"{pole.channel} at {pole.place}"
