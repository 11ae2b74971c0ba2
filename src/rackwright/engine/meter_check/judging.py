"""Which faults explain a reading, and the next test, which tells most of them apart."""

import math
from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from rackwright.engine.meter_check.faults import LIKELIEST, NAMES, UNTOLD, Fault, Kind, elsewhere, faults
from rackwright.engine.meter_check.meter import (
    METER_OHMS,
    OPEN,
    OhmRange,
    PairTest,
    near_pairs,
    pair_test,
    read_bridged,
    read_cabinet,
    read_near,
    read_unplugged,
    read_without,
    ways_behind,
)
from rackwright.model.index import Index
from rackwright.model.lines import Line
from rackwright.units import reading


class Explanation(Struct, frozen=True):
    """A kind of fault that fits a reading, with the cases of it that fit, nearest first."""

    kind: Kind
    cases: tuple[Fault, ...]

    @property
    def words(self) -> str:
        """The cases in words, of many the nearest three."""
        told = list(dict.fromkeys(case.words for case in self.cases))
        more = f" ({len(told) - 3} more fit)" if len(told) > 3 else ""
        return "; or ".join(told[:3]) + more


class NextTest(Struct, frozen=True):
    """The test to do next, and what each explanation predicts for it."""

    words: str
    predictions: tuple[tuple[str, str], ...]
    """An explanation in words, and what it predicts."""

    @property
    def sentence(self) -> str:
        """What to do, then what to look for."""
        told = "; ".join(f"{seen}: {explanation}" for explanation, seen in self.predictions)
        return f"{self.words} {told[:1].upper()}{told[1:]}." if told else self.words


class Judgement(Struct, frozen=True):
    """What a reading says of a pole pair."""

    test: PairTest
    ohms: float
    """Meter leads taken off."""
    explanations: tuple[Explanation, ...]
    """Likeliest first; empty where no single fault fits."""
    next_test: NextTest | None

    @property
    def as_expected(self) -> bool:
        """Whether nothing need be wrong."""
        return bool(self.explanations) and self.explanations[0].kind == "as expected"

    @property
    def verdict(self) -> str:
        """In a few words: the likeliest, and what fits as well; of a good line only what would do harm."""
        if not self.explanations:
            return "no single fault fits"
        first, *others = [NAMES[explanation.kind] for explanation in self.listed]
        return f"{first} (or {', '.join(others)})" if others else first

    @property
    def listed(self) -> tuple[Explanation, ...]:
        """The explanations that are worth telling: all of a fault, of a good line those that would do harm."""
        return tuple(e for e in self.explanations if not self.as_expected or e.kind not in UNTOLD)


_MOST_CASES = 6
"""Cases of one kind that the next test is foretold for."""


def judge(index: Index, test: PairTest, ohms: float, sounded: Sequence[str] = ()) -> Judgement:
    """All that explains a reading of `ohms` (Ω, leads taken off, infinite where open), and the next test.

    `sounded`, where not empty, are the cabinets that were heard on the pair: faults under which others would sound
    are out, and that the line is in one of theirs is thought of.
    """
    shown = math.inf if ohms > OPEN else max(ohms, 0.0)
    fitting = [
        fault
        for fault in (*faults(index, test), *elsewhere(index, test, sounded))
        if fault.under(read_near).shown_as(shown)
        and (not sounded or fault.sounds is None or fault.sounds == frozenset(sounded))
    ]
    grouped = [
        Explanation(kind, tuple(sorted(cases, key=lambda fault: _distance(fault, shown))))
        for kind in LIKELIEST
        if (cases := [fault for fault in fitting if fault.kind == kind])
    ]
    return with_next_test(index, Judgement(test, shown, tuple(grouped), None))


def with_next_test(index: Index, said: Judgement) -> Judgement:
    line = index.lines[said.test.line]
    return replace(said, next_test=_next_test(index, line, said.test, said.listed))


def _distance(fault: Fault, ohms: float) -> float:
    likely = fault.under(read_near).likely
    return 0.0 if likely == ohms else abs(likely - ohms)


class _Test(NamedTuple):
    words: str
    predict: Callable[[Fault], OhmRange]


def _next_test(index: Index, line: Line, test: PairTest, found: Sequence[Explanation]) -> NextTest | None:
    """The test that tells most of the explanations apart, the easiest first among equals; a look where none does."""
    if not found:
        return NextTest("Measure again, then measure line and cabinet each by itself.", ())
    if sum(len(explanation.cases) for explanation in found) == 1:
        return None
    gains = [(_gain(candidate, found), candidate) for candidate in _tests(index, line, test)]
    gain, best = max(gains, key=lambda item: item[0])
    if gain == 0:
        return NextTest(_look([explanation.kind for explanation in found], test), ())
    if len(found) == 1:
        by_words = {case.words: case for case in reversed(found[0].cases)}
        nearest = list(reversed(by_words.items()))[:_MOST_CASES]
        told = tuple((words, _range(best, [case])) for words, case in nearest)
    else:
        told = tuple((NAMES[explanation.kind], _range(best, explanation.cases)) for explanation in found)
    return NextTest(best.words, told)


def _tests(index: Index, line: Line, test: PairTest) -> Iterator[_Test]:
    """Every test there is, the easiest first."""
    others = [pair for pair in range(1, near_pairs(index, line) + 1) if pair != test.pair]
    for other in others:
        yield _Test(f"Measure pole pair {other} of {line.id}.", _on_other_pair(index, test, other))
    at = f"at the near end of {line.id}"
    links = dict.fromkeys(
        w.line for way in ways_behind(index, line, test.pair - 1, test.coil_temperature) for w in way.all()
    )
    for link in links:
        if link != line.id:
            pulled = read_without(link)
            yield _Test(
                f"Pull {link} at {index.lines[link].source} and measure again {at}.",
                lambda fault, pulled=pulled: fault.under(pulled),  # type: ignore[misc]
            )
    yield _Test(f"Unplug {line.to} and measure again {at}.", lambda fault: fault.under(read_unplugged))
    yield _Test(
        f"Unplug {line.to} and measure pole pair {test.pair} at its input.",
        lambda fault: fault.under(read_cabinet),
    )
    yield _Test(
        f"Unplug {line.to}, bridge pole pair {test.pair} in the far plug and measure again {at}.",
        lambda fault: fault.under(read_bridged),
    )


def _on_other_pair(index: Index, test: PairTest, other: int) -> Callable[[Fault], OhmRange]:
    """What another pair would show: the loads exchanged where the two are, else as expected, where that can be said."""
    here = test.expected
    there = pair_test(index, index.lines[test.line], other - 1, test.coil_temperature).expected
    unknown = OhmRange(0.0, math.nan, math.inf)

    def predict(fault: Fault) -> OhmRange:
        if fault.kind in ("cabinets", "cable"):
            return unknown
        return here if fault.least.swapped_with == other else there

    return predict


def _gain(test: _Test, found: Sequence[Explanation]) -> float:
    """How many pairs of explanations a test tells apart, each explanation's cases sharing its weight."""
    weights = np.array([1 / len(e.cases) for e in found for _ in e.cases])
    low, high = np.array([test.predict(case).limits for e in found for case in e.cases]).T
    apart = high[:, None] < low[None, :]
    return float(weights @ apart @ weights)


def _range(test: _Test, cases: Sequence[Fault]) -> str:
    """What an explanation's cases predict for a test, in words."""
    seen = [test.predict(case) for case in cases]
    words = list(dict.fromkeys(map(_on_a_meter, seen)))
    return words[0] if len(words) == 1 else f"{words[0]} or {words[1]}" if len(words) == 2 else _span(seen)


def _span(seen: Sequence[OhmRange]) -> str:
    ordered = sorted(seen, key=lambda each: each.likely)
    return f"{_on_a_meter(ordered[0])} to {_on_a_meter(ordered[-1])}"


def _on_a_meter(each: OhmRange) -> str:
    """A prediction as a hand meter would show it, which knows nothing finer than a tenth of an ohm."""
    if math.isnan(each.likely):
        return "anything"
    if each.likely < METER_OHMS or each.low <= 0.0 < each.high < OPEN:
        return f"under {reading(max(each.high, METER_OHMS), 'Ω')}"
    return str(each)


def _look(kinds: Sequence[Kind], test: PairTest) -> str:
    """What to look at where no meter reading tells the explanations apart."""
    battery = f"touch a small battery to pole pair {test.pair} and hear which driver clicks"
    looks = {
        "wrong pole pair": battery,
        "cabinets": "count the cabinets on the line",
        "driver open": battery,
        "half section": battery,
        "bad contact": "clean or change the plugs and measure again",
        "cable": "read size and length on the cable",
    }
    told = dict.fromkeys(look for kind, look in looks.items() if kind in kinds)
    todo = ", ".join(told) or "look at both plugs"
    return f"{todo[:1].upper()}{todo[1:]}: no reading tells these apart within the meter's tolerance."
