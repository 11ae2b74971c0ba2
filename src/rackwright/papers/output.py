"""Writing a rig's papers into a folder: the one module here that writes files."""

import contextlib
import datetime
import os
from collections.abc import Sequence
from typing import NamedTuple

from rackwright.engine.assess import Assessed
from rackwright.model.diff import Change, difference
from rackwright.model.rig import Rig
from rackwright.papers.changes import changes_sheet
from rackwright.papers.contents import Given, files, sheets
from rackwright.papers.identity import Paper, design, digest, header_of, revision
from rackwright.papers.typeface import SignError
from rackwright.store import output_folder, rig_file, venues
from rackwright.store.night_log import Event
from rackwright.store.output_folder import Written
from rackwright.store.safe.atomic_write import SaveError
from rackwright.store.stock import own_stock
from rackwright.store.toml.read import RigFileError


class Done(NamedTuple):
    """What was written, and under which revision."""

    written: Written
    revision: str


def write_papers(
    assessment: Assessed,
    folder: str | os.PathLike[str],
    names: Sequence[str] = (),
    formats: Sequence[str] = ("pdf",),
    when: datetime.datetime | None = None,
    since: Assessed | None = None,
    log: Sequence[Event] = (),
    paper: Paper | None = None,
    labels: str = "",
) -> Done:
    """Write the sheets of those names (all where none is named) into the folder, as of `when`, by default now.


    `log` is the night's, for its sheet; `paper` the size of pages, by default by the mains rules, `labels` one of `label_sheets.SHEETS`. With `since`, first, after the cover, what changed since that rig; a name that is none of MAKERS, such as `changes`, adds nothing.
    Raises SaveError where the folder can't take them or a PDF can't print a sign, RigFileError where the user's list of stock or library can't be read.
    """
    rig = assessment.index.rig
    stock = rig.stock or own_stock(rig.equipment)
    text = design(rig)
    of = digest(text)
    number = output_folder.number(folder, of)
    header = header_of(rig, when or datetime.datetime.now(), of, number, paper, labels)
    notes = venues.notes_of(rig.venue.name, rig.name)
    given = Given(before=_rig_before(folder, of), log=log, venue_notes=notes)
    made = sheets(assessment, stock, names, given)
    if since is not None:
        changed = changes_sheet(since, assessment, _named(since.index.rig))
        at = sum(sheet.name == "cover" for sheet in made)
        made = (*made[:at], changed, *made[at:])
    try:
        contents = files(made, header, formats)
    except SignError as error:
        advice = "Choose the formats md, html, txt or csv, which take any character, or use others."
        raise SaveError(folder, str(error), advice) from None
    return Done(output_folder.write(folder, contents, of, text), header.revision)


def _rig_before(folder: str | os.PathLike[str], revision_: str) -> Rig | None:
    """The rig whose papers the folder held before those of that revision; None where there is none that can be read."""
    text = output_folder.source_before(folder, revision_)
    with contextlib.suppress(RigFileError):
        return rig_file.loads(text) if text else None
    return None


def unprinted(rig: Rig, folder: str | os.PathLike[str]) -> tuple[Change, ...] | None:
    """What changed since the papers in the folder were written; None where it holds none whose rig is known."""
    before = _rig_before(folder, "")
    return None if before is None else difference(before, rig_file.loads(design(rig)))


def _named(rig: Rig) -> str:
    return f"{rig.name}, revision {revision(rig)}"


def told(done: Done, folder: str | os.PathLike[str]) -> str:
    """What was done, in sentences."""
    written = done.written
    count = len(written.new) + len(written.replaced)
    files_ = "1 paper" if count == 1 else f"{count} papers"
    said = [f"Wrote {files_} of revision {done.revision} into {os.fspath(folder)}."]
    if written.replaced:
        said.append(
            f"Replaced earlier ones: {', '.join(written.replaced)}. Throw away what was printed from those."
        )
    if written.removed:
        said.append(f"Removed sheets of an earlier revision: {', '.join(written.removed)}.")
    if written.stale:
        said.append(
            f"STALE, of an earlier revision and changed since, so moved aside: {', '.join(written.stale)}."
        )
    return " ".join(said)
