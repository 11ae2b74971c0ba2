"""How each pole pair stands by the reading kept of it, and how far the check has come.

A line whose pairs may be exchanged without a reading that shows it, or whose drivers no meter sees behind a capacitor, is
not proved until somebody has listened. What it read
on an earlier day narrows its limits. Lines are taken as they are built, whatever is marked failed since; a plug that is pulled is
pulled.
"""

import math
from collections.abc import Container, Mapping, Sequence
from typing import Literal, NamedTuple, TypeAlias

from msgspec import Struct
from msgspec.structs import replace

from rackwright.engine.meter_check.faults import SHORTS
from rackwright.engine.meter_check.judging import Judgement, judge, with_next_test
from rackwright.engine.meter_check.meter import OPEN, OhmRange, PairTest, near_pairs, pair_test, pair_tests
from rackwright.engine.meter_check.sweep_judging import SweepJudgement, judge_sweep
from rackwright.model.index import Index
from rackwright.model.night import MINUTE
from rackwright.model.readings import FormerReading, Reading, ohms_of
from rackwright.units import QuantityError, Temperature, reading
from rackwright.units.formatting import whole_percent

STEADY = 0.02
"""How far a good line's resistance comes from what it was, temperatures apart: ±2 %. Common practice, no source."""


def measured(kept: Reading | FormerReading) -> float | None:
    """The resistance in Ω that a kept reading stands for, its leads taken off; None where nothing was measured."""
    if not kept.ohms:
        return None
    try:
        return max(ohms_of(kept.ohms) - kept.lead_resistance.value, 0.0)
    except QuantityError:
        return None


Status: TypeAlias = Literal["not tested", "wrong", "not proved", "drifted", "as expected"]


class Checked(Struct, frozen=True):
    """A pole pair with the reading kept of it and what that says; None where there is none."""

    test: PairTest
    reading: Reading | None
    judgement: Judgement | None
    earlier: Reading | None = None
    """One that was taken on another cabinet model, cable or length, or with others linked on: history, no proof."""
    rivals: tuple[PairTest, ...] = ()
    """The pairs that drive other kinds of section, and that it may be exchanged with for all that is known."""
    steady: OhmRange | None = None
    """What it should read by what it read on an earlier day; None where that is not known, or was wrong itself."""

    sweep: SweepJudgement | None = None

    @property
    def limits(self) -> tuple[float, float]:
        """The least and the most that the meter should show, in Ω."""
        low, high = self.test.expected.limits
        least, most = self.steady.limits if self.steady is not None else (low, high)
        return max(low, least), min(high, most)

    @property
    def wrong(self) -> tuple[str, ...]:
        """What was found wrong, by meter, eye and ear."""
        found = []
        if self.judgement is not None and not self.judgement.as_expected:
            found.append(self.judgement.verdict)
        if (kept := self.reading) is None:
            return tuple(found)
        if kept.polarity == "no":
            found.append("polarity reversed")
        if kept.heard_from and set(kept.heard_from) != set(self.test.cabinets):
            expected = " ".join(self.test.cabinets) or "none"
            found.append(f"heard from {' '.join(kept.heard_from)}, expected {expected}")
        elif kept.heard == "no":
            found.append("not heard as it should be")
        if self.sweep is not None:
            found += [f"sweep: {deviation}" for deviation in self.sweep.deviations]
        return tuple(found)

    @property
    def unproved(self) -> tuple[str, ...]:
        """The sections behind a capacitor that nobody heard and no sweep shows: open or not, the meter reads the same."""
        kept = self.reading
        known = kept is not None and (kept.heard == "yes" or kept.heard_from)
        return () if known or self.sweep is not None else self.test.unseen

    @property
    def status(self) -> Status:
        """How it stands. It is proved by nothing but a reading, with what was heard where that leaves a doubt."""
        if self.wrong:
            return "wrong"
        if self.judgement is None:
            return "not tested"
        doubt = self.rivals or self.unproved
        return "not proved" if doubt else "drifted" if self.drift else "as expected"

    @property
    def verdict(self) -> str:
        """In a few words; empty where it is not tested."""
        if self.wrong:
            return "; ".join(self.wrong)
        if self.status == "not proved":
            told = []
            if self.rivals:
                told += [
                    f"may be exchanged with pole pair {' or '.join(str(each.pair) for each in self.rivals)}"
                ]
            if self.unproved:
                told += [f"no meter sees {' and '.join(self.unproved)} behind a capacitor"]
            return f"not proved: {', '.join(told)}"
        if self.drift:
            return "drifted since last time"
        return self.judgement.verdict if self.judgement is not None else ""

    @property
    def drift(self) -> str:
        """How far a reading within its limits has come from the last, and what to look at; empty where not far."""
        return f"It {': '.join(self.drifted)}." if self.drifted else ""

    @property
    def drifted(self) -> tuple[str, str] | None:
        """Both parts of `drift`, what it reads and what to do; None where it is not far."""
        said, steady, kept = self.judgement, self.steady, self.reading
        if said is None or not said.as_expected or steady is None or steady.shown_as(said.ohms):
            return None
        more = said.ohms - steady.likely
        look = "clean or change its plugs" if more > 0 else "look which cabinet, cable or driver was changed"
        day = kept.last.when[:MINUTE] if kept is not None and kept.last is not None else ""
        return (
            f"reads {reading(abs(more), 'Ω')} {'more' if more > 0 else 'less'} than it should by the reading of "
            f"{day or 'last time'}, over ±{whole_percent(STEADY)} and the meter's tolerance",
            f"{look} and measure again",
        )

    @property
    def proof(self) -> str:
        """The listening test that proves it before power; empty where it needs none."""
        if self.status != "not proved":
            return ""
        test, others = (
            self.test,
            " or ".join(dict.fromkeys(_kind_words(each) for each in self.rivals if each.kinds)),
        )
        heard = (
            f"the {_kind_words(test)} driver of {' and '.join(test.cabinets)}"
            if test.cabinets
            else "no driver"
        )
        charged = " (a capacitor keeps its charge: bridge the pole pair before another touch)"
        return (
            f"Don't power it yet. Touch a small battery to pole pair {test.pair} of {test.line} for a moment: "
            f"{heard} clicks{f', not the {others}' if others else ''}{charged if self.unproved else ''}. Then note heard: yes."
        )

    @property
    def caution(self) -> str:
        """What to mind before the verdict is trusted, or the line powered; empty where nothing."""
        if self.judgement is None or self.reading is None:
            return ""
        if self.rivals and self.status == "wrong":
            others = " or ".join(str(rival.pair) for rival in self.rivals)
            return f"Don't power it: pole pairs {self.test.pair} and {others} may be exchanged in a plug or an adaptor."
        kinds = {explanation.kind for explanation in self.judgement.explanations}
        if kinds & SHORTS and not self.reading.lead_resistance.value:
            return "Write the resistance of the meter's leads (touch them together): without it nothing says where the short is."
        if "wrong pole pair" in kinds and not self.judgement.as_expected:
            return "Don't power it: a high driver may be on a low band."
        return ""


def _kind_words(test: PairTest) -> str:
    return " and ".join(sorted(test.kinds))


def checked(
    index: Index, coil_temperature: float | None = None, lines: Container[str] | None = None
) -> tuple[Checked, ...]:
    """Every pole pair of every line, or of those of these ids, with what is known of it.

    `coil_temperature` (°C) is that of the pairs that are not measured yet: ambient where None.
    """
    index = as_built(index)
    kept = {item.id: item for item in index.rig.readings}
    found = {
        test.id: _checked(index, test, kept.get(test.id))
        for test in pair_tests(index, coil_temperature, lines)
    }
    left = {name: _exchanges_left(index, item, found) for name, item in found.items()}
    return tuple(_with_rivals(_seen_together(left[name], left), left) for name in left)


def as_built(index: Index) -> Index:
    """The index of the rig with no line and no cabinet marked failed: a meter is to show what has."""
    rig = index.rig
    lines = tuple(
        line if line.state == "ok" and not line.failed_pairs else replace(line, state="ok", failed_pairs=())
        for line in rig.lines
    )
    cabinets = tuple(each if not each.faults else replace(each, faults={}) for each in rig.cabinets)
    whole = all(a is b for a, b in zip((*lines, *cabinets), (*rig.lines, *rig.cabinets), strict=True))
    return index if whole else Index(replace(rig, lines=lines, cabinets=cabinets))


def _checked(index: Index, test: PairTest, kept: Reading | None) -> Checked:
    if kept is None:
        return Checked(test, None, None)
    if not _current(index, kept):
        return Checked(test, None, None, kept)
    taken, ohms = _taken(index, kept, kept.coil_temperature), measured(kept)
    sweep = _swept(index, taken, kept)
    if ohms is None:
        return Checked(test, kept, None, sweep=sweep)
    heard = kept.heard_from or (taken.cabinets if kept.heard == "yes" else ())
    said = judge(index, taken, ohms, heard)
    return Checked(taken, kept, said, steady=_steady(index, taken, kept), sweep=sweep)


def _swept(index: Index, test: PairTest, kept: Reading) -> SweepJudgement | None:
    return judge_sweep(index, test, kept.sweep) if kept.sweep else None


def _taken(index: Index, kept: Reading, coils: Temperature | None) -> PairTest:
    """The test that a reading is of, with coils as hot as they were, at ambient where not stated."""
    hot = coils.value if coils is not None else None
    return pair_test(index, index.lines[kept.line], kept.pair - 1, hot)


def _steady(index: Index, test: PairTest, kept: Reading) -> OhmRange | None:
    """By the last reading, as warm as now."""
    ohms = measured(kept.last) if kept.last is not None else None
    if kept.last is None or ohms is None or ohms > OPEN or math.isinf(test.expected.likely):
        return None
    then = _taken(index, kept, kept.last.coil_temperature).expected
    if not then.shown_as(ohms):
        return None
    likely = ohms * test.expected.likely / then.likely
    return OhmRange(likely * (1 - STEADY), likely, likely * (1 + STEADY))


def _current(index: Index, kept: Reading) -> bool:
    """Whether a reading was taken on its line as that is now; of one whose plug is pulled since, only that it is open."""
    line = index.lines.get(kept.line)
    if line is None:
        return False
    cabinet, ohms = index.cabinets[line.to], measured(kept)
    pulled = cabinet.muted and ohms is not None and ohms <= OPEN
    return not pulled and kept.taken_on(line, cabinet.model, index.linked_on(line.to))


def wrong_readings(index: Index) -> tuple[Checked, ...]:
    """The pole pairs whose reading, ticks or ear found them other than as expected. Lines that are as expected cost little."""
    if not index.rig.readings:
        return ()
    built = as_built(index)
    lines = {kept.line for kept in built.rig.readings if not _plain(built, kept)}
    found = checked(built, lines=lines) if lines else ()
    return tuple(item for item in found if item.status in ("wrong", "not proved", "drifted"))


def _plain(index: Index, kept: Reading) -> bool:
    """Whether a look at its limits says that a reading is as expected, or proves nothing now."""
    line = index.lines.get(kept.line)
    if line is None or kept.pair > near_pairs(index, line) or not _current(index, kept):
        return True
    test, ohms = _taken(index, kept, kept.coil_temperature), measured(kept)
    steady, sweep = _steady(index, test, kept), _swept(index, test, kept)
    item = Checked(test, kept, None, steady=steady, sweep=sweep)
    if item.wrong or ohms is None:
        return not item.wrong
    if item.unproved:
        return False
    low, high = item.limits
    others = [n for n in range(near_pairs(index, line)) if n != kept.pair - 1]
    unlike = (pair_test(index, line, n, test.coil_temperature) for n in others if kept.heard != "yes")
    exchanged = any(there.kinds != test.kinds and there.expected.shown_as(ohms) for there in unlike)
    return low <= (math.inf if ohms > OPEN else ohms) <= high and not exchanged


def _exchanges(item: Checked) -> set[int]:
    """The pole pairs that it may be exchanged with, by what is known of it alone."""
    explanations = item.judgement.explanations if item.judgement is not None else ()
    return {
        case.least.swapped_with
        for each in explanations
        for case in each.cases
        if case.kind == "wrong pole pair"
    }


def _exchanges_left(index: Index, item: Checked, found: Mapping[str, Checked]) -> Checked:
    """An exchange takes two: what the other pair's reading or either's drivers heard rule out is left out."""
    out = set()
    for other in _exchanges(item):
        there = found.get(f"{item.test.line}/{other}")
        read_otherwise = (
            there is not None and there.judgement is not None and item.test.pair not in _exchanges(there)
        )
        if read_otherwise or _heard_right(item) or _heard_right(there):
            out.add(other)
    if not out or item.judgement is None:
        return item
    explanations = (
        replace(each, cases=tuple(case for case in each.cases if case.least.swapped_with not in out))
        for each in item.judgement.explanations
    )
    said = replace(item.judgement, explanations=tuple(each for each in explanations if each.cases))
    return replace(item, judgement=with_next_test(index, said))


def _heard_right(item: Checked | None) -> bool:
    return item is not None and item.reading is not None and item.reading.heard == "yes"


def _seen_together(item: Checked, found: Mapping[str, Checked]) -> Checked:
    """With two pairs exchanged, each reads what the other should: where both do, that is the likeliest."""
    said = item.judgement
    if said is None or said.as_expected:
        return item
    exchanged = [explanation for explanation in said.explanations if explanation.kind == "wrong pole pair"]
    others = (found.get(f"{item.test.line}/{other}") for other in _exchanges(item))
    if not any(other is not None and other.judgement is not None for other in others):
        return item
    rest = [explanation for explanation in said.explanations if explanation.kind != "wrong pole pair"]
    return replace(item, judgement=replace(said, explanations=(*exchanged, *rest)))


def _with_rivals(item: Checked, found: Mapping[str, Checked]) -> Checked:
    """With the pairs named that it may be exchanged with to the harm of a driver."""
    others = (found.get(f"{item.test.line}/{other}") for other in sorted(_exchanges(item)))
    harmful = tuple(
        other.test for other in others if other is not None and other.test.kinds != item.test.kinds
    )
    return replace(item, rivals=harmful) if harmful else item


class Progress(NamedTuple):
    """How far the meter check has come, in pole pairs."""

    measured: int
    as_expected: int
    total: int
    heard: int = 0
    wrong: int = 0
    not_proved: int = 0
    drifted: int = 0

    def __str__(self) -> str:
        doubts = ((self.wrong, "wrong"), (self.not_proved, "not proved"), (self.drifted, "drifted"))
        told = "".join(f", {count} {words}" for count, words in doubts if count)
        return f"{self.measured} of {self.total} measured{told}, {self.heard} heard"


def progress(found: Sequence[Checked]) -> Progress:
    """How many pole pairs are measured, how they stand, and on how many somebody listened."""
    statuses = [item.status for item in found]
    heard = sum(
        item.reading is not None and bool(item.reading.heard or item.reading.heard_from) for item in found
    )
    return Progress(
        sum(item.judgement is not None for item in found),
        statuses.count("as expected"),
        len(found),
        heard,
        statuses.count("wrong"),
        statuses.count("not proved"),
        statuses.count("drifted"),
    )


def clean(found: Sequence[Checked]) -> bool:
    """Whether nothing that was tested is wrong or left in doubt."""
    return all(item.status in ("not tested", "as expected") for item in found)
