"""How each pole pair stands by the reading kept of it, and how far the check has come.

A line whose pairs may be exchanged without a reading that shows it is not proved until somebody has listened.
"""

import math
from collections.abc import Mapping, Sequence
from typing import Literal, NamedTuple, TypeAlias

from msgspec import Struct
from msgspec.structs import replace

from rackwright.engine.meter_check.faults import SHORTS
from rackwright.engine.meter_check.judging import Judgement, judge, with_next_test
from rackwright.engine.meter_check.meter import OPEN, PairTest, near_pairs, pair_test, pair_tests
from rackwright.model.index import Index
from rackwright.model.readings import ohms_of
from rackwright.model.rig import Reading
from rackwright.units import QuantityError


def measured(kept: Reading) -> float | None:
    """The resistance in Ω that a kept reading stands for, its leads taken off; None where nothing was measured."""
    if not kept.ohms:
        return None
    try:
        return max(ohms_of(kept.ohms) - kept.lead_resistance.value, 0.0)
    except QuantityError:
        return None


Status: TypeAlias = Literal["not tested", "wrong", "not proved", "as expected"]


class Checked(Struct, frozen=True):
    """A pole pair with the reading kept of it and what that says; None where there is none."""

    test: PairTest
    reading: Reading | None
    judgement: Judgement | None
    earlier: Reading | None = None
    """One that was taken on another cabinet model, cable or length: history, no proof."""
    rivals: tuple[PairTest, ...] = ()
    """The pairs that drive other kinds of section, and that it may be exchanged with for all that is known."""

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
        return tuple(found)

    @property
    def status(self) -> Status:
        """How it stands. It is proved by nothing but a reading, with what was heard where that leaves a doubt."""
        if self.wrong:
            return "wrong"
        if self.judgement is None:
            return "not tested"
        return "not proved" if self.rivals else "as expected"

    @property
    def verdict(self) -> str:
        """In a few words; empty where it is not tested."""
        if self.wrong:
            return "; ".join(self.wrong)
        if self.rivals:
            return f"not proved: may be exchanged with pole pair {' or '.join(str(rival.pair) for rival in self.rivals)}"
        return self.judgement.verdict if self.judgement is not None else ""

    @property
    def proof(self) -> str:
        """The listening test that proves it before power; empty where it needs none."""
        if self.status != "not proved":
            return ""
        test, others = self.test, " or ".join(dict.fromkeys(_kind_words(rival) for rival in self.rivals))
        return (
            f"Don't power it yet. Touch a small battery to pole pair {test.pair} of {test.line} for a moment: the "
            f"{_kind_words(test)} driver of {' and '.join(test.cabinets)} clicks, not the {others}. Then note heard: yes."
        )

    @property
    def caution(self) -> str:
        """What to mind before the verdict is trusted, or the line powered; empty where nothing."""
        if self.judgement is None or self.reading is None:
            return ""
        kinds = {explanation.kind for explanation in self.judgement.explanations}
        if kinds & SHORTS and not self.reading.lead_resistance.value:
            return "Write the resistance of the meter's leads (touch them together): without it nothing says where the short is."
        if "wrong pole pair" in kinds and not self.judgement.as_expected:
            return "Don't power it: a high driver may be on a low band."
        return ""


def _kind_words(test: PairTest) -> str:
    return " and ".join(sorted(test.kinds)) or "none"


def checked(index: Index) -> tuple[Checked, ...]:
    """Every pole pair of every line with what is known of it."""
    kept = {item.id: item for item in index.rig.readings}
    found = {test.id: _checked(index, test, kept.get(test.id)) for test in pair_tests(index)}
    left = {name: _exchanges_left(index, item, found) for name, item in found.items()}
    return tuple(_with_rivals(_seen_together(left[name], left), left) for name in left)


def _checked(index: Index, test: PairTest, kept: Reading | None) -> Checked:
    if kept is not None and not _current(index, kept):
        return Checked(test, None, None, kept)
    ohms = measured(kept) if kept else None
    if kept is None or ohms is None:
        return Checked(test, kept, None)
    heard = kept.heard_from or (test.cabinets if kept.heard == "yes" else ())
    return Checked(test, kept, judge(index, test, ohms, heard))


def _current(index: Index, kept: Reading) -> bool:
    """Whether a reading was taken on its line as that is now."""
    line = index.lines.get(kept.line)
    return line is not None and kept.taken_on(line, index.cabinets[line.to].model)


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


def wrong_pairs(index: Index) -> tuple[str, ...]:
    """The pole pairs, `C1/1`, on which something was found wrong: a reading out of its limits, a no, another cabinet."""
    found = []
    for kept in index.rig.readings:
        line, ohms = index.lines.get(kept.line), measured(kept)
        if line is None or kept.pair > near_pairs(index, line) or not _current(index, kept):
            continue  # of another line, or of a pair that is not there now
        item = Checked(pair_test(index, line, kept.pair - 1), kept, None)
        shown = math.inf if ohms is not None and ohms > OPEN else ohms
        if item.wrong or (shown is not None and not item.test.expected.shown_as(shown)):
            found.append(kept.id)
    return tuple(found)


class Progress(NamedTuple):
    """How far the meter check has come, in pole pairs."""

    measured: int
    as_expected: int
    total: int
    heard: int = 0
    wrong: int = 0
    not_proved: int = 0

    def __str__(self) -> str:
        doubts = ((self.wrong, "wrong"), (self.not_proved, "not proved"))
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
    )


def clean(found: Sequence[Checked]) -> bool:
    """Whether nothing that was tested is wrong or left in doubt."""
    return all(item.status in ("not tested", "as expected") for item in found)
