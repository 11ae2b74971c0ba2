"""The key that writes the crew's papers: asks what, where and since when, and writes them off the screen's thread."""

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from rackwright.console.background import begin
from rackwright.console.editor import Editor
from rackwright.console.widgets.fields import Choice, Field, FieldError, Option
from rackwright.console.widgets.form import Form
from rackwright.engine.assess import Assessed, assess
from rackwright.model.rig import Rig, Venue
from rackwright.store.safe.atomic_write import SaveError
from rackwright.store.toml.read import RigFileError

NO_CHANGES, SAVED = "none", "the file as saved"
"""What to tell the changes since, besides the presets."""


class Folder(Field):
    """A folder, `~` standing for the user's own."""

    def read(self, text: str) -> Path:
        """Where it is. Raises FieldError where it is of a user that is not there."""
        if not text.strip():
            raise FieldError(f"{self.label} can't be empty")
        try:
            return Path(text.strip()).expanduser()
        except RuntimeError:
            raise FieldError(f"{text.strip()} is in the folder of a user that is not here") from None


class Names(Field):
    """Some of the names that are known, with spaces or commas between."""

    known: Sequence[str]
    otherwise: tuple[str, ...]
    """What empty stands for; what else is known is made by its name only."""

    def read(self, text: str) -> tuple[str, ...]:
        """The names. Raises FieldError for one that is not known."""
        words = tuple(text.replace(",", " ").lower().split())
        if wrong := [word for word in words if word not in self.known]:
            raise FieldError(f'There is no "{wrong[0]}". There are: {", ".join(self.known)}.')
        return words or self.otherwise

    def write(self, value: Any) -> str:
        """The names in a line."""
        return " ".join(value)

    def note(self, _text: str) -> str:
        """Nothing: they are known."""
        return ""

    @property
    def unfilled(self) -> str:
        """That empty stands for all of them."""
        return "all"

    @property
    def hint(self) -> str:
        """What there is to choose from."""
        apart = [name for name in self.known if name not in self.otherwise]
        return ", ".join(self.otherwise) + (f"; by name only: {', '.join(apart)}" if apart else "")


def ask_for_papers(editor: Editor) -> None:
    """Ask what to write and where, and write it."""
    from rackwright.papers.contents import ALL, FORMATS, MAKERS
    from rackwright.papers.identity import PAPERS, proposed_paper

    session = editor.session
    fields = (
        Folder("folder", "Folder"),
        Names("formats", "Formats", FORMATS, FORMATS),
        Names("sheets", "Sheets", tuple(MAKERS), ALL, long=True),
        Choice("since", "Changes since", _earlier(session.saved is not None)),
        Choice(
            "paper",
            "Paper",
            lambda _values: tuple(
                Option(name, f"{name.capitalize()}, {size}") for name, size in PAPERS.items()
            ),
        ),
        Choice("labels", "Labels", lambda values: _label_sheets(values.get("paper"))),
    )
    values = {
        "folder": str(papers_folder(session.path, session.rig.venue)),
        "formats": ("pdf",),
        "sheets": (),
        "since": NO_CHANGES,
        "paper": proposed_paper(session.rig),
        "labels": "",
    }
    assessment, saved, file = session.assessment, session.saved, session.path

    def done(given: Mapping[str, Any] | None) -> None:
        if given is None:
            return
        folder: Path = given["folder"]
        editor.say(f"Writing papers into {folder} …")
        begin(
            editor.app,
            "writing papers",
            lambda: _write(assessment, folder, given, saved, file),
            lambda said: editor.say(*said),
            lambda said: editor.say(said, "bold red"),
        )

    editor.app.push_screen(Form("Papers for the crew", fields, values, editor.glyphs), done)


def _write(
    assessment: Assessed, folder: Path, given: Mapping[str, Any], saved: Rig | None, file: Path | None
) -> tuple[str, str]:
    """Write them; what to say of it, and how."""
    from rackwright.papers.output import told, write_papers
    from rackwright.store import night_log

    try:
        earlier = _rig_of(given["since"], saved)
        since = assess(earlier) if earlier is not None else None
        log = night_log.of(file)
        sheets, formats = given["sheets"], given["formats"]
        done = write_papers(
            assessment, folder, sheets, formats,
            since=since, log=log, paper=given["paper"], labels=given["labels"],
        )  # fmt: skip
        return told(done, folder), ""
    except (SaveError, RigFileError) as error:
        return str(error), "bold red"


def _label_sheets(paper: object) -> Sequence[Option]:
    """The sheets of labels that come on such paper."""
    from rackwright.papers.label_sheets import FLAG, SHEETS

    found = (name for name, each in SHEETS.items() if name != FLAG and each.letter == (paper == "letter"))
    return (
        Option("", "a grid to cut"),
        Option(FLAG, "to fold around the cable"),
        *(Option(name, "label sheet") for name in found),
    )


def _earlier(has_file: bool) -> Callable[[Mapping[str, Any]], Sequence[Option]]:
    """What there is to tell the changes since."""
    from rackwright.store import presets

    fixed = [Option(NO_CHANGES), *([Option(SAVED)] if has_file else [])]
    options = (*fixed, *(Option(p.name, f"preset, {p.title}") for p in presets.listed() if not p.error))
    return lambda _values: options


def _rig_of(since: str, saved: Rig | None) -> Rig | None:
    """The rig that a choice stands for, None for no changes. Raises RigFileError."""
    from rackwright.store import presets, rig_file

    if since == NO_CHANGES:
        return None
    if since == SAVED:
        return saved
    preset = presets.find(since)
    return rig_file.load(preset.path) if preset else None


def papers_folder(path: Path | None, venue: Venue) -> Path:
    """The folder proposed: beside the rig file, of its name, and in it one for the venue and its date, where they are known."""
    from rackwright.store.files import plain_name

    folder = path.with_name(f"{path.stem}-papers") if path else Path("papers")
    return folder / plain_name(f"{venue.name} {venue.date}")
