"""What was heard, as answers: for a section, a cabinet, a feed or a side, and whether a suspicion agrees with them.

What isn't answered is unknown. Knows no rates and no order.
"""

import difflib
from collections.abc import Iterable, Mapping
from typing import Literal, TypeAlias, get_args

from rackwright.engine.diagnosis.faults import Suspicion, Table
from rackwright.model.places import SectionPlace, Thing

Word: TypeAlias = Literal["plays", "quiet", "silent", "distorted", "humming", "dull", "thin"]
HEARD: dict[Word, str] = {
    "plays": "all of it plays",
    "quiet": "quieter than it should be, or part of it silent",
    "silent": "nothing of it plays",
    "distorted": "some of it distorts or crackles",
    "humming": "some of it hums",
    "dull": "a high section of it is silent or quiet",
    "thin": "a low section of it is silent or quiet",
}
"""What can be answered, and what it says of the sections asked for."""
OF_A_KIND: dict[Word, str] = {"dull": "high", "thin": "low"}
"""Answers that speak of one kind of section among several."""
SIDES = ("left", "right")


class AnswerError(Exception):
    """An answer that can't be read, or of something that nobody hears; the message says which and what to write."""


def asked_for(table: Table, place: str) -> tuple[str, ...]:
    """The sections that an answer for a place speaks of: those of it that play with everything working.

    Raises AnswerError where it is no place, or nothing that is heard.
    """
    index = table.index
    found = index.place(place)
    if isinstance(found, SectionPlace):
        sections = tuple(name for name in table.meant if name == place)
        nothing = f"{place} has no feed with everything working, so that nothing can be said of it."
    elif isinstance(found, Thing) and found.kind == "cabinet":
        sections = tuple(name for name, section in table.meant.items() if section.cabinet == place)
        nothing = f"No section of {place} has a feed with everything working."
    elif isinstance(found, Thing) and found.kind == "feed":
        sections = tuple(name for name, feed in table.feeds.items() if feed == place)
        nothing = f"Feed {place} drives no section."
    elif found is None and place in SIDES:
        sections = tuple(name for name in table.meant if side_of(table, name) == place)
        nothing = f"Nothing is marked as on the {place}: give cabinets or feeds their side."
    elif found is None:
        raise AnswerError(f'There is no "{place}" to hear.{_near(table, place)} {EXPECTED}')
    else:
        kind = found.kind.replace("pole", "pole pair")
        raise AnswerError(f"{place} is a {kind}, which nobody hears. {EXPECTED}")
    if not sections:
        raise AnswerError(nothing)
    return sections


EXPECTED = "Name a section such as TOP-R1.high, a cabinet, a feed, left or right."


def _near(table: Table, place: str) -> str:
    index = table.index
    known = (*index.sections, *index.cabinets, *index.feeds, *SIDES)
    near = difflib.get_close_matches(place, known, n=1, cutoff=0.6)
    return f' Did you mean "{near[0]}"?' if near else ""


def side_of(table: Table, section: str) -> str:
    """The side that a section is on: its cabinet's, else its feed's."""
    index = table.index
    return index.cabinets[table.meant[section].cabinet].side or index.feeds[table.feeds[section]].side


def words_for(table: Table, place: str) -> tuple[Word, ...]:
    """What can be answered for a place. Raises AnswerError."""
    sections = asked_for(table, place)
    kinds = {table.meant[name].kind for name in sections}
    several = len(sections) > 1
    return tuple(word for word in HEARD if word not in OF_A_KIND or (several and OF_A_KIND[word] in kinds))


def read_answer(table: Table, text: str) -> tuple[str, Word]:
    """An answer as typed, `TOP-R1.high=quiet`. Raises AnswerError."""
    place, sign, said = (part.strip() for part in text.rpartition("="))
    if not sign or not place:
        raise AnswerError(
            f'"{text}" is no answer: write what was heard behind it, such as TOP-R1.high=quiet.'
        )
    possible = words_for(table, place)
    word: Word | None = next((word for word in get_args(Word) if word == said.lower()), None)
    if word is None:
        near = difflib.get_close_matches(said.lower(), possible, n=1)
        hint = f' Did you mean "{near[0]}"?' if near else ""
        raise AnswerError(
            f'"{text}": nothing is heard as "{said}".{hint} Write one of: {", ".join(possible)}.'
        )
    if word not in possible:
        kind = OF_A_KIND[word]
        raise AnswerError(
            f'"{text}": "{word}" is said of several sections with a {kind} one among them. '
            f"For {place} write one of: {', '.join(possible)}."
        )
    return place, word


def kept(table: Table, heard: Mapping[str, str]) -> dict[str, Word]:
    """Of what a rig holds as heard the answers that can be given still."""
    return {place: word for place, said in heard.items() for word in _said_of(table, place) if word == said}


def _said_of(table: Table, place: str) -> tuple[Word, ...]:
    try:
        return words_for(table, place)
    except AnswerError:
        return ()


def agrees(table: Table, word: Word, sections: Iterable[str], causes: Suspicion) -> bool:
    """Whether that would be heard of those sections."""
    heard = {name: table.heard(name, causes) for name in sections}
    if word in OF_A_KIND:
        return any(
            state in ("silent", "quiet")
            for name, state in heard.items()
            if table.meant[name].kind == OF_A_KIND[word]
        )
    states = {*heard.values()}
    if word == "quiet":
        return bool(states & {"silent", "quiet"}) and states != {"silent"}
    return states == {word} if word in ("plays", "silent") else word in states
