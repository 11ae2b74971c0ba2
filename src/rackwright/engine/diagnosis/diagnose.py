"""`diagnose`: the table and what was heard in, the causes that agree with all of it out, the likeliest first, and the next test.

Where no single cause agrees, pairs are tried. Holds no table and no words of what is heard.
"""

import itertools
import math
from collections import Counter, defaultdict
from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from rackwright.engine.diagnosis.answers import Word, agrees, asked_for
from rackwright.engine.diagnosis.checks import Check, candidates, check_of, listen, shows
from rackwright.engine.diagnosis.faults import CALLED, Cause, Heard, Suspicion, Table
from rackwright.units.formatting import whole_percent
from rackwright.units.wording import few, listed

WHOLE_CIRCUIT = 1000.0
"""By how much a circuit is likelier once all that it feeds was heard to be silent. Common practice, no source."""
ONE_AMPLIFIER = 2.0
"""The same of a circuit that feeds one amplifier only, which on its own would be heard just so. Common practice, no source."""
MOST_LOOKED_AT = 60
"""Suspicions up to which more than listening is thought of: with more, listening is quicker whatever is looked at."""
MOST_SECTIONS = 2
"""Sections whose lights, plugs and lines are looked at: those that most of what is suspected takes along."""
MOST_CLASSES, MOST_PAIRS = 120, 200
"""Groups of causes that are paired, and pairs told, at most: the likeliest of them."""


class Suspect(Struct, frozen=True, kw_only=True):
    """What may have failed: a thing, or two."""

    names: tuple[str, ...]
    """As `recovery.fail` takes them."""
    kinds: tuple[str, ...]
    heard: tuple[Heard, ...]
    """What may be heard of the sections it takes along."""
    at: tuple[str, ...]
    """These sections, in the order of the rig."""
    share: float
    """How likely it is among all that agree, 0 to 1."""
    suspicions: tuple[Suspicion, ...]

    @property
    def name(self) -> str:
        return " and ".join(self.names)

    @property
    def places(self) -> str:
        """Where it is; in which way it fails stands in `kinds`."""
        return " and ".join(cause.place or cause.name for cause in self.suspicions[0])


class Split(Struct, frozen=True):
    """What remains with one outcome of a test."""

    outcome: str
    share: float
    names: tuple[str, ...]


class NextTest(Struct, frozen=True, kw_only=True):
    """The test that gains most bits per second."""

    check: Check
    bits: float
    splits: tuple[Split, ...]
    """The likeliest outcome first."""


class Diagnosis(Struct, frozen=True, kw_only=True):
    """What was answered, and what agrees with it."""

    answers: dict[str, Word]
    """Place → what was heard of it."""
    found: dict[str, str]
    """Test → what it showed."""
    nothing_new: bool
    """Whether all of it is as it would be with nothing more failed than is marked."""
    suspects: tuple[Suspect, ...]
    """The likeliest first; with nothing answered, every single fault."""
    paired: bool
    """Whether no single cause agrees, so that pairs were tried."""
    doubtful: tuple[str, ...]
    """Where no single cause agrees, the answers and tests without any one of which some single cause does."""
    next_test: NextTest | None

    @property
    def doubt(self) -> str:
        """What to hear again, in a sentence; empty where nothing stands alone against a single cause."""
        without = " or without ".join(self.doubtful)
        return f"A single cause agrees without {without}: look again." if without else ""


def diagnose(table: Table, answers: Mapping[str, Word], found: Mapping[str, str] | None = None) -> Diagnosis:
    """What may have failed. `found` are tests, as `check_of` reads them, with what they showed.

    Raises AnswerError where something can't be heard or tested.
    """
    tests = dict(found or {})
    heard = _Answers(table, answers, tests)
    likely = heard.promoted(table.causes)
    agreeing: list[Suspicion] = [(c,) for c in likely if heard.agree((c,)) and heard.as_found((c,))]
    nothing_new = heard.agree(()) and heard.as_found(())
    paired = not agreeing and not nothing_new
    if paired:
        agreeing = [pair for pair in _pairs(table, heard, likely) if heard.as_found(pair)]
    suspects = _suspects(table, agreeing)
    known = {*answers, *tests}
    return Diagnosis(
        answers=dict(answers),
        found=tests,
        nothing_new=nothing_new,
        suspects=suspects,
        paired=paired,
        doubtful=tuple(_doubtful(table, answers, tests, likely)) if paired else (),
        next_test=None if nothing_new or len(suspects) < 2 else _next_test(table, agreeing, known),
    )


class _Answers:
    """Answers, each suspicion tried on them once for all that take along the same of what was asked for."""

    def __init__(self, table: Table, answers: Mapping[str, Word], found: Mapping[str, str]) -> None:
        self.table, self.answers = table, answers
        self.shown = [(check_of(table, text), outcome) for text, outcome in found.items()]
        self.asked = asked = {place: asked_for(table, place) for place in answers}
        self.all = frozenset(name for sections in asked.values() for name in sections)
        self.silent = frozenset(name for p, word in answers.items() if word == "silent" for name in asked[p])
        self._known: dict[object, bool] = {}

    def seen_of(self, cause: Cause) -> tuple[frozenset[str], Heard]:
        """What of a cause shows in the answers."""
        at = cause.at & self.all
        return (at, cause.heard) if at else (at, "plays")

    def agree(self, causes: Suspicion, words: Iterable[Word] = ()) -> bool:
        """Whether they agree with the answers, or with those of some words only."""
        key = (*map(self.seen_of, causes), *words)
        if key not in self._known:
            told = {p: word for p, word in self.answers.items() if not words or word in words}
            self._known[key] = all(agrees(self.table, w, self.asked[p], causes) for p, w in told.items())
        return self._known[key]

    def as_found(self, causes: Suspicion) -> bool:
        """Whether the tests would have shown what they showed."""
        return all(shows(self.table, check, causes) == outcome for check, outcome in self.shown)

    def promoted(self, causes: Iterable[Cause]) -> list[Cause]:
        """The causes, a circuit likelier where all of it was heard to be silent: far likelier where that is several amplifiers."""
        return [
            replace(c, rate=c.rate * (WHOLE_CIRCUIT if self._amplifiers(c) > 1 else ONE_AMPLIFIER))
            if c.kind == "circuit" and c.at and c.at <= self.silent
            else c
            for c in causes
        ]

    def _amplifiers(self, cause: Cause) -> int:
        """How many amplifiers play what a cause takes along."""
        index, meant = self.table.index, self.table.meant
        return len({index.channels[meant[name].channel or ""].amplifier for name in cause.at})


def _doubtful(
    table: Table, answers: Mapping[str, Word], found: Mapping[str, str], causes: Sequence[Cause]
) -> Iterator[str]:
    """What stands alone against a single cause: without it, one agrees with all the rest."""
    for left_out in (*answers, *found):
        rest = {place: word for place, word in answers.items() if place != left_out}
        heard = _Answers(table, rest, {test: o for test, o in found.items() if test != left_out})
        wrong = any(word != "plays" for word in rest.values())
        if wrong and any(heard.agree((c,)) and heard.as_found((c,)) for c in causes):
            yield left_out


def _pairs(table: Table, heard: _Answers, causes: Iterable[Cause]) -> list[Suspicion]:
    """Two causes that agree together, the likeliest first."""
    classes: dict[object, list[Cause]] = defaultdict(list)
    for cause in causes:
        if cause.at & heard.all and heard.agree((cause,), ("plays",)):
            classes[heard.seen_of(cause)].append(cause)
    likeliest = sorted(classes.values(), key=lambda each: -max(c.rate for c in each))[:MOST_CLASSES]
    together = [
        pair
        for one, other in itertools.combinations(likeliest, 2)
        if heard.agree((one[0], other[0]))
        for pair in itertools.product(one, other)
        if pair[0].place != pair[1].place  # not two of one section, nor one thing twice
    ]
    together.sort(key=lambda pair: -pair[0].rate * pair[1].rate)
    return [pair for pair in together[:MOST_PAIRS] if _holds(table, heard, pair)]


def _holds(table: Table, heard: _Answers, pair: tuple[Cause, Cause]) -> bool:
    """Whether the two agree still with what only both together silence."""
    one, other = pair
    both = table.taken_along(table.after([one.name, other.name]))
    more = both - one.at - other.at
    if not more:
        return True
    beyond = Cause(name="", kind=one.kind, heard="silent", at=more, rate=0.0)
    return heard.agree((*pair, beyond))


def _weight(causes: Suspicion) -> float:
    return math.prod(cause.rate for cause in causes)


def _suspects(table: Table, agreeing: Iterable[Suspicion]) -> tuple[Suspect, ...]:
    """The suspicions put together by what has failed, the likeliest first; equally likely ones in the order of the rig."""
    by_name: dict[tuple[str, ...], list[Suspicion]] = defaultdict(list)
    for causes in agreeing:
        by_name[tuple(cause.name for cause in causes)].append(causes)
    order = {name: number for number, name in enumerate(table.meant)}
    total = sum(_weight(causes) for of in by_name.values() for causes in of)
    suspects = [
        Suspect(
            names=names,
            kinds=tuple(CALLED.get(cause.kind, cause.kind) for cause in of[0]),
            heard=tuple(dict.fromkeys(cause.heard for causes in of for cause in causes)),
            at=tuple(sorted({name for cause in of[0] for name in cause.at}, key=order.__getitem__)),
            share=sum(map(_weight, of)) / total,
            suspicions=tuple(of),
        )
        for names, of in by_name.items()
    ]
    return tuple(sorted(suspects, key=lambda suspect: -suspect.share))


def likely(share: float) -> str:
    """A share in whole per cent; what is possible is never 0 %."""
    return whole_percent(share) if share >= 0.005 else "< 1 %"


# --- the next test ---


def _next_test(table: Table, agreeing: Sequence[Suspicion], known: set[str]) -> NextTest | None:
    """The test that gains most bits per second; None where no test tells what agrees apart."""
    total = sum(map(_weight, agreeing))
    best: tuple[float, float, Check] | None = None
    for check, weights in _weighed(table, agreeing, known):
        bits = -sum(w / total * math.log2(w / total) for w in weights if w > 0)
        if bits > 1e-9 and (best is None or bits / check.seconds > best[0] + 1e-12):
            best = (bits / check.seconds, bits, check)
    if best is None:
        return None
    _, bits, check = best
    return NextTest(check=check, bits=bits, splits=_splits(table, check, agreeing, total))


def _weighed(
    table: Table, agreeing: Sequence[Suspicion], known: set[str]
) -> Iterator[tuple[Check, list[float]]]:
    """Each test that is not answered yet, with the weight of each outcome."""
    bears: dict[str, float] = defaultdict(float)
    for causes in agreeing:
        for name in {name for cause in causes for name in cause.at}:
            bears[name] += _weight(causes)
    places = {*bears, *(table.meant[name].cabinet for name in bears), *(table.feeds[name] for name in bears)}
    alike = [(of[0], sum(map(_weight, of))) for of in _grouped(agreeing).values()]
    for place in (*table.index.feeds, *table.index.cabinets, *table.meant):
        if place in places and place not in known:
            there = _grouped((causes for causes, _ in alike), frozenset(asked_for(table, place)))
            weight_of = {id(causes): weight for causes, weight in alike}
            weighed = ((of[0], sum(weight_of[id(causes)] for causes in of)) for of in there.values())
            check = listen(table, place)
            yield check, _outcomes(table, check, weighed)
    if len(agreeing) > MOST_LOOKED_AT:
        return
    likeliest = sorted(filter(bears.__contains__, table.meant), key=lambda name: -bears[name])[:MOST_SECTIONS]
    shorted = [cause.place for causes in agreeing for cause in causes if cause.kind == "shorted"]
    for check in candidates(table, likeliest, shorted):
        if check.id not in known:
            yield check, _outcomes(table, check, ((causes, _weight(causes)) for causes in agreeing))


def _grouped(
    suspicions: Iterable[Suspicion], sections: frozenset[str] | None = None
) -> dict[object, list[Suspicion]]:
    """Those that do alike to sections, to all where none are given."""
    groups: dict[object, list[Suspicion]] = defaultdict(list)
    for causes in suspicions:
        there = [(cause.at if sections is None else cause.at & sections, cause.heard) for cause in causes]
        groups[tuple((at, heard if at else "") for at, heard in there)].append(causes)
    return groups


def _outcomes(table: Table, check: Check, weighed: Iterable[tuple[Suspicion, float]]) -> list[float]:
    """The weight of each outcome of a test."""
    weights: dict[str, float] = defaultdict(float)
    for causes, weight in weighed:
        weights[shows(table, check, causes)] += weight
    return [*weights.values()]


def _splits(table: Table, check: Check, agreeing: Iterable[Suspicion], total: float) -> tuple[Split, ...]:
    remain: dict[str, list[Suspicion]] = defaultdict(list)
    for causes in sorted(agreeing, key=_weight, reverse=True):
        remain[shows(table, check, causes)].append(causes)
    splits = [
        Split(
            outcome,
            sum(map(_weight, of)) / total,
            tuple(dict.fromkeys(" and ".join(cause.name for cause in causes) for causes in of)),
        )
        for outcome, of in remain.items()
    ]
    return tuple(sorted(splits, key=lambda split: -split.share))


# --- what to heed ---


def advice(table: Table, diagnosis: Diagnosis) -> tuple[str, ...]:
    """What to do before anything is re-patched, as far as what is suspected asks for it."""
    if diagnosis.nothing_new:
        return ()
    causes = [cause for suspect in diagnosis.suspects for each in suspect.suspicions for cause in each]
    told = []
    shorted = dict.fromkeys(table.index.sections[c.place].cabinet for c in causes if c.kind == "shorted")
    lines = dict.fromkeys(filter(None, map(table.index.root_line, shorted)))
    if lines:
        each, it = ("", "it") if len(lines) == 1 else ("s", "them")
        ends = listed([f"{line.id} at {line.source}" for line in lines])
        told.append(
            f"{few([*shorted])} may be shorted: unplug line{each} {ends} before anything on {it} goes on another channel."
        )
    protecting = [c.name for c in causes if c.light == "protect" and c.kind in ("channel", "amplifier")]
    if amplifiers := [*dict.fromkeys(map(table.index.thing_at, protecting))]:
        it = "it" if len(amplifiers) == 1 else "each"
        told.append(
            f"{listed(amplifiers)} may be in protection: switch {it} off and on once (30 s) before re-patching."
        )
    if circuits := [*dict.fromkeys(cause.name for cause in causes if cause.kind == "circuit")]:
        told.append(f"{listed(circuits)} may have tripped: one reset, by those who know why it tripped.")
    return tuple(told)


def grouped(table: Table, diagnosis: Diagnosis) -> tuple[tuple[Suspect, ...], ...]:
    """What is suspected, alike things of it together: of one kind, as likely, and taking along as many of the same models.

    The likeliest first.
    """
    groups: dict[Hashable, list[Suspect]] = defaultdict(list)
    for suspect in diagnosis.suspects:
        sections = [table.index.sections[name] for name in suspect.at]
        along = Counter((table.index.cabinets[each.cabinet].model, each.section) for each in sections)
        share = round(suspect.share, 6)
        groups[suspect.kinds, suspect.heard, share, frozenset(along.items())].append(suspect)
    return tuple(sorted(map(tuple, groups.values()), key=lambda of: -sum(suspect.share for suspect in of)))


def whichever(diagnosis: Diagnosis) -> tuple[str, ...]:
    """Everything suspected, so that plans hold whichever it is; of a section's faults the gravest for what is on its channel."""
    names = dict.fromkeys(name for suspect in diagnosis.suspects for name in suspect.names)
    return tuple(sorted(names, key=lambda name: name.endswith("=shorted")))
