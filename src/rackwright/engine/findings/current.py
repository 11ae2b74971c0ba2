"""Judgements on the current through terminals, cables and connectors, which a feed's rms limiter may hold under their ratings.

What is rated so warms by the mean square of the current over minutes, so that an rms limiter counts and a peak limiter
does not: common practice, no source. One that is advised and not set is part of the advice.
"""

import math
from collections.abc import Iterator, Sequence

from rackwright.engine import limits, protection
from rackwright.engine.channel import Branch, gain_at
from rackwright.engine.finding import Finding
from rackwright.engine.findings.limiters import advised
from rackwright.engine.findings.registry import judges_branch, judges_feed
from rackwright.engine.results import PastRating
from rackwright.model.index import Index
from rackwright.model.racks import Feed
from rackwright.units import LimiterSetting, reading, told_apart
from rackwright.units.wording import listed

_SPLIT = "split the load over more lines or pole pairs, use more cores in parallel, or a part rated for it."


def past_ratings(branch: Branch) -> tuple[PastRating, ...]:
    """The parts that the full-power current of a channel flows through and is over the rating of."""
    channel = branch.result
    if channel.current is None or branch.second_of_bridge:
        return ()
    terminals = limits.terminal_current(branch)
    held = [PastRating(channel.id, channel.current, terminals, f"the {terminals.why}")]
    for run, result in zip(branch.all_runs, branch.runs, strict=True):
        held += [PastRating(result.line, result.current, each, each.why) for each in limits.run_currents(run)]
    return tuple([each for each in held if each.limit.broken_by(each.current)])


@judges_branch
def current_over_rating(branch: Branch) -> Iterator[Finding]:
    """Of a channel that no feed limits."""
    if branch.feed is None:
        for past in past_ratings(branch):
            yield _over(past, branch)


@judges_feed
def current_behind_limiter(index: Index, feed: Feed, branches: Sequence[Branch]) -> Iterator[Finding]:
    """Of a channel with a feed: a note where its rms limiter holds the current under the rating.

    What one does by an assumed gain doesn't count, set or advised.
    """
    over = [branch for branch in branches if branch.past_ratings]
    if not over:
        return
    setting = advised(index, feed, "rms", branches)
    for branch in over:
        full = branch.result.voltage or math.inf
        set_to, safe = (
            min(1.0, _let_through(index, feed, branches, branch, each) / full)
            for each in (feed.limiter_rms, LimiterSetting.parse(setting))
        )
        assumed = _assumed_gains(index, feed, branches, branch, LimiterSetting.parse(setting))
        for past in branch.past_ratings:
            if not past.limit.broken_by(past.current * set_to):
                yield _held(past, feed, past.current * set_to)
                continue
            cure = past.current * safe
            if not past.limit.broken_by(cure):
                advice = f"Set the rms limiter of {feed.id} to {setting} or less, which holds it at {reading(cure, 'A')}."
            else:
                advice = _gains_first(feed, assumed) if assumed else ""
            yield _over(past, branch, set_to, advice)


def _let_through(
    index: Index, feed: Feed, branches: Sequence[Branch], branch: Branch, setting: LimiterSetting | None
) -> float:
    """V that an rms limiter of a feed is sure to hold a channel to; volts of which it isn't said where hold at the lowest gain, at worst."""
    if setting is None or _assumed_gains(index, feed, branches, branch, setting):
        return math.inf
    at = gain_at(index, feed.limiter_at)
    return protection.set_voltage(setting, branch.gain, min(b.gain for b in branches) if at is None else at)


def _assumed_gains(
    index: Index, feed: Feed, branches: Sequence[Branch], branch: Branch, setting: LimiterSetting
) -> list[str]:
    """The models on whose assumed gains it rests what an rms limiter lets through at a channel: its own for dBu; for volts
    that hold where another model is, its own and that one."""
    models = {branch.model.id: branch.model}
    if not setting.in_dbu:
        at = index.channels.get(feed.limiter_at)
        named = [] if at is None else [index.amplifier_models[index.amplifiers[at.amplifier].model]]
        models |= {each.id: each for each in named or [each.model for each in branches]}
        if len(models) == 1:
            return []
    return [name for name, model in models.items() if "gain" in model.assumed]


def _gains_first(feed: Feed, models: Sequence[str]) -> str:
    of, sheet = (models[0], "its data sheet") if len(models) == 1 else (listed(models), "their data sheets")
    return (
        f"Enter the gain of {of} from {sheet}: by an assumed one no rms limiter of {feed.id} is counted on."
    )


def _held(past: PastRating, feed: Feed, current: float) -> Finding:
    told, most = told_apart(past.current, past.limit.value, "A")
    return Finding(
        "current-over-rating",
        "note",
        past.at,
        f"Current {told} at full power is over the {most} of {past.whose}; "
        f"the rms limiter of {feed.id}, {feed.limiter_rms}, holds it at {reading(current, 'A')}.",
        f"Leave the rms limiter at {feed.limiter_rms} or less.",
        past.current,
        past.limit,
    )


def _over(past: PastRating, branch: Branch, held: float = 1.0, cure: str = "") -> Finding:
    """Driven hard, the mean-square current is the heavy duty's share of full power, so the lasting current is √duty of the
    full one, and no more than the share that a limiter lets through: over a rating it is a stop, the full current over it a warn.
    """
    lasting = past.current * min(held, math.sqrt(branch.targets.heavy_duty))
    hard = past.limit.broken_by(lasting)
    told, most = told_apart(past.current, past.limit.value, "A")
    return Finding(
        "current-over-rating",
        "stop" if hard else "warn",
        past.at,
        f"Current {told} at full power is over the {most} of {past.whose}"
        + (f", and {reading(lasting, 'A')} of that continuously when driven hard." if hard else "."),
        f"{cure} Or {_SPLIT}" if cure else _SPLIT.capitalize(),
        past.current,
        past.limit,
    )
