"""What tells one paper from another: rig and venue, revision and time; and knowing them again in a sheet that comes back.

A revision is a counter, which people compare, and a digest of the rig file, which is right whoever counted.
"""

import datetime
import hashlib
import re
from collections.abc import Mapping, Sequence
from typing import Literal, NamedTuple, TypeAlias

from msgspec.structs import replace

from rackwright.model.rig import Rig
from rackwright.papers.document import Header
from rackwright.store import rig_file
from rackwright.store.spreadsheet.cells import CsvError
from rackwright.store.spreadsheet.sheet import PAPER
from rackwright.units.safe_text import safe

COLUMN = PAPER
"""Of a CSV, the column that says in each row what the sheet is of, however the rows are sorted or copied."""
Paper: TypeAlias = Literal["a4", "letter"]
PAPERS: Mapping[Paper, str] = {"a4": "210 × 297 mm", "letter": "8.5 × 11 in"}
"""Size of pages → how large."""
_WORDS = re.compile(r"(.*) · (\d{4}-\d\d-\d\d[\d :]*) · revision ((?:\d+, )?([0-9a-f]{8}))")


class Identity(NamedTuple):
    """What a sheet says that it is of."""

    title: str
    """Rig and venue."""
    date: str
    revision: str
    """As printed: `3, 3f2a91c0`."""
    digest: str


def design(rig: Rig) -> str:
    """The rig file without what was read of it and what the night changed: what papers are of."""
    return rig_file.dumps(replace(rig, readings=(), night=()))


def digest(text: str) -> str:
    """A short digest of a rig file's text."""
    return hashlib.sha256(text.encode()).hexdigest()[:8]


def revision(rig: Rig) -> str:
    """The digest of a rig's design."""
    return digest(design(rig))


def proposed_paper(rig: Rig) -> Paper:
    """The size of pages that is likely there: letter where `us` rules hold."""
    return "letter" if rig.supply.rules == "us" else "a4"


def header_of(
    rig: Rig, when: datetime.datetime, of: str, number: int = 0, paper: Paper | None = None, labels: str = ""
) -> Header:
    """What stands at the head of the rig's papers made then, of revision `of`, its `number` if it has one, on paper of that
    size, or of the one that is likely there, its labels on that sheet.
    """
    return Header(
        rig=rig.title,
        date=when.strftime("%Y-%m-%d %H:%M"),
        revision=f"{number}, {of}" if number else of,
        letter=(paper or proposed_paper(rig)) == "letter",
        labels=labels,
    )


def words(rig: Rig) -> str:
    """What a sheet of the rig that is made now says that it is of."""
    return header_of(rig, datetime.datetime.now(), revision(rig)).words


def read(words: str) -> Identity | None:
    """What the words at the head of a paper say that it is of; None where they are of another form."""
    found = _WORDS.fullmatch(words.strip())
    return Identity(*found.groups()) if found else None


def recognised(rig: Rig, path: str, papers: Sequence[str]) -> tuple[str, ...]:
    """What to say where a sheet that comes back is of an earlier revision. Raises CsvError where it is of another rig or venue."""
    notes = []
    for words in papers:
        of = read(words)
        if of is None:
            continue
        if of.title != title(rig):
            raise CsvError(
                f"{path} is of another rig or venue: {of.title}, revision {of.revision}. This is {title(rig)}. "
                f"Nothing of it is used. If it is this rig's all the same, delete the column {COLUMN}."
            )
        if of.digest != revision(rig):
            notes.append(
                f"The sheet is of revision {of.revision} of {of.date}; the rig was changed since, or is another state of it. "
                "Check that lines which were changed are tested again."
            )
    return tuple(notes)


def title(rig: Rig) -> str:
    """Rig and venue as papers have them."""
    return one_line(rig.title)


def one_line(text: str) -> str:
    """The text on one line and nothing in it that steers."""
    return safe(text.replace("\n", " ").replace("\t", " "))
