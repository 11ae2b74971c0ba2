"""The diagnosis in rows: what was heard place by place, what may have failed, and the next test with what it would show."""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from rackwright.console.rows.row import Row, cut, fit, gap_in, in_columns, titles, words
from rackwright.console.terminal.glyphs import Glyphs
from rackwright.engine import diagnosis, recovery
from rackwright.engine.diagnosis import OUTCOMES, SIDES, AnswerError, Diagnosis, Suspect, Table
from rackwright.units.text_table import wrap
from rackwright.units.wording import so_many, some

STYLES = {"plays": "ok", "silent": "stop"}
"""How an answer looks; any other is a warning."""
UNKNOWN = "–"
ANSWER = 10
"""Cells of an answer, where there is room."""
SHARE, CAUSE, KIND, ALONG = 5, 18, 21, 16
"""Cells of a cause's columns, at most where others need the rest."""
NAMES_IN_A_SPLIT = 4


class Asked(NamedTuple):
    """A place that can be answered for."""

    place: str
    indent: int
    note: str


def places(table: Table) -> list[Asked]:
    """Every place that can be answered for: sides, feeds, cabinets and the sections of those that have several."""
    index = table.index
    found = [Asked(side, 0, f"all on the {side}") for side in SIDES if index.place(side) is None]
    found += [Asked(name, 0, "feed") for name in index.feeds]
    for cabinet in index.rig.cabinets:
        sections = [name for name, section in table.meant.items() if section.cabinet == cabinet.id]
        found.append(Asked(cabinet.id, 0, cabinet.position))
        found += [Asked(name, 2, table.feeds[name]) for name in sections if len(sections) > 1]
    return [each for each in found if _heard(table, each.place)]


def _heard(table: Table, place: str) -> bool:
    try:
        return bool(diagnosis.asked_for(table, place))
    except AnswerError:
        return False


def heard(
    asked: list[Asked],
    answers: Mapping[str, str],
    tests: Mapping[str, str],
    width: int,
    glyphs: Glyphs,
    heads: bool,
) -> list[Row]:
    """A row for each test that was made, then one for each place; answers give room to what is noted of it.

    With `heads` under names of the columns.
    """
    room = max((len(each.place) + each.indent for each in asked), default=8)
    told = max((len(answers.get(each.place, UNKNOWN)) for each in asked), default=0) + 1
    told = max(told, len("Heard ") * heads)
    noted = max((len(each.note) for each in asked), default=0)
    room += room + 2 + ANSWER + noted < width
    answered = min(ANSWER, max(told, width - room - 1 - noted))
    rows = [titles(f"{'Place':<{room}} {fit('Heard', answered)}What"[:width])] if heads else []
    for test, outcome in tests.items():
        shown = _outcome(test, outcome)
        # under what it is, as a test has nothing heard; over both columns where that has no room
        lead = room + 1 + (answered if len(shown) <= width - room - 1 - answered else 0)
        rows.append(Row(((fit(test, lead), ""), (cut(shown, width - lead, glyphs), "note")), test))
    for each in asked:
        said = answers.get(each.place, "")
        name = f"{' ' * each.indent}{each.place}"
        answer = (fit(glyphs.spelt(said or UNKNOWN), answered), STYLES.get(said, "warn") if said else "")
        rows.append(
            Row(
                (
                    (f"{name:<{room}} ", "head" if said else ""),
                    answer,
                    (cut(each.note, max(0, width - room - 1 - answered), glyphs), "dim"),
                ),
                each.place,
            )
        )
    return rows


def _outcome(test: str, outcome: str) -> str:
    kind = next(kind for kind in OUTCOMES if test.startswith(f"{kind} "))
    return OUTCOMES[kind][outcome]


def title(told: Diagnosis) -> str:
    """How many causes there are, in a word or two."""
    number = len(told.suspects)
    if not told.answers and not told.found:
        return "May have failed"
    if told.paired:
        pairs = f"{so_many(number, 'pair')} {'does' if number == 1 else 'do'}"
        return f"No single cause agrees; {pairs}" if number else "No cause and no pair agrees"
    if told.nothing_new:
        return "Nothing more than is marked"
    return "1 cause agrees" if number == 1 else f"{number} causes agree, likeliest first"


def causes(told: Diagnosis, groups: Sequence[Sequence[Suspect]], width: int, glyphs: Glyphs) -> list[Row]:
    """A row for the causes that agree, one for those that are alike; its place is its number from 0."""
    if not told.answers and not told.found:
        return _said("Answer what you hear: the causes that agree are listed here.", width)
    if told.nothing_new:
        return _said("All that is answered is so with nothing more failed than is marked. Say what is wrong to hear.", width)  # fmt: skip
    if not told.suspects:
        return _said(f"Nothing that fails alone or in a pair does all of this. {told.doubt}", width)
    names = [_names(group) for group in groups]
    kinds = [", ".join(group[0].kinds) for group in groups]
    along = [_along(group[0].at, len(group) > 1) for group in groups]
    name, kind, most = (
        max(map(len, column)) for column in (("Cause", *names), ("What", *kinds), ("Affects", *along))
    )
    name = min(name, max(CAUSE, width - SHARE - KIND - ALONG - 3))
    kind = min(kind, max(KIND, width - SHARE - name - ALONG - 3))
    if (gap := gap_in(width, SHARE + name + kind + most, 4)) == 1:
        along = [so_many(len(group[0].at), "section") for group in groups]
        gap = gap_in(width, SHARE + name + kind + max(map(len, along)), 4)
    rest = width - SHARE - name - kind - 3 * gap
    sizes, between = (name, kind, rest), " " * gap
    rows = [words(part, "warn") for part in wrap(told.doubt, width)] if told.doubt else []
    rows += [
        titles(f"{'Odds':>{SHARE}}{between}{in_columns(('Cause', 'What', 'Affects'), sizes, glyphs, gap)}")
    ]
    for number, group in enumerate(groups):
        share = glyphs.spelt(diagnosis.likely(sum(each.share for each in group)))
        rows.append(
            Row(
                (
                    (f"{share:>{SHARE}}{between}", "dim"),
                    (cut(names[number], name, glyphs) + between, "head"),
                    (cut(kinds[number], kind, glyphs) + between, ""),
                    (cut(along[number], rest, glyphs), "dim"),
                ),
                str(number),
            )
        )
    return rows


def _names(group: Sequence[Suspect]) -> str:
    more = len(group) - 1
    return group[0].places + (f" and {more} like it" if more else "")


def _along(sections: tuple[str, ...], each: bool = False) -> str:
    if not sections:
        return "nothing that plays"
    told = f"{sections[0]} +{len(sections) - 1}" if len(sections) > 1 else sections[0]
    return f"{told} …" if each else told


def _said(text: str, width: int) -> list[Row]:
    return [words(part) for part in wrap(text, width)]


def next_test(table: Table, told: Diagnosis, width: int, lines: int) -> list[Row]:
    """The next test with its predicted split, then what to heed, in so many lines."""
    if (test := told.next_test) is None:
        rows = (
            [words("No test tells more.", "dim")] if len(told.suspects) > 1 and not told.nothing_new else []
        )
        return [*rows, *_heed(table, told, width)][:lines]
    said = f"n Next test, {test.check.seconds:.0f} s: {test.check.words}"
    rows = [words(part, "head") for part in wrap(said, width, "  ")]
    heed = _heed(table, told, width)
    room = max(lines - len(heed), 3) - len(rows)
    shares = [
        f"{OUTCOMES[test.check.kind][split.outcome]} ({diagnosis.likely(split.share)})"
        for split in test.splits
    ]
    for number, split in enumerate(test.splits[: max(room, 0)], 1):
        names = [_in_words(table, name) for name in split.names]
        rest = "".join(f"; {share}" for share in shares[number:]) if number == room else ""
        texts = [
            f"{shares[number - 1]}: {some(names, most)}{rest}" for most in range(NAMES_IN_A_SPLIT, 0, -1)
        ]
        text = next((each for each in texts if len(each) <= width - 2), texts[-1])
        rows.append(Row((("  ", ""), (fit(text, width - 2), "")), selectable=False))
    return [*rows[: max(lines - len(heed), 3)], *heed][:lines]


def _in_words(table: Table, name: str) -> str:
    """A cause, or two, as a person names it in few words."""
    told = " and ".join(recovery.in_words(table.index.rig, each) for each in name.split(" and "))
    return told.replace("the signal lead", "signal lead")


def _heed(table: Table, told: Diagnosis, width: int) -> list[Row]:
    if not told.answers and not told.found:
        return []
    sentences = diagnosis.advice(table, told)
    return [words(part, "warn") for sentence in sentences for part in wrap(sentence, width, "  ")]
