"""Opening what a command is pointed at: a rig by file or preset name, the equipment known; and how it is refused."""

import os
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from rackwright.cli.status import UNUSABLE

if TYPE_CHECKING:
    from rackwright.model.equipment import Equipment
    from rackwright.model.rig import Rig
    from rackwright.store.presets import Preset

LONGEST_NAME = 60
"""Signs of a name that leads nowhere that are repeated to the user."""


class Refusal(Exception):
    """Something the user must put right; `message` goes to standard error as it is."""

    def __init__(self, message: str, status: int = UNUSABLE) -> None:
        self.message, self.status = message, status
        super().__init__(message)


class Opened(NamedTuple):
    """A rig, and what it came from: a file or a preset."""

    rig: "Rig"
    file: Path | None
    """None where it is a preset that was named, not a file."""
    preset: "Preset | None" = None


def opened(name: str) -> Opened:
    """The rig of a file, or of the preset of that name where there is no such file. Raises Refusal."""
    from rackwright.store import presets
    from rackwright.store.rig_file import RigFileError, load

    found = None if os.path.isfile(name) else presets.find(name)
    if found is None and not os.path.lexists(name) and not looks_like_a_file(name):
        raise Refusal(_no_rig(name))
    try:
        if found is None:
            return Opened(load(name), Path(name))
        return Opened(found.rig or load(found.path), None, found)
    except RigFileError as error:
        raise Refusal(str(error)) from None


def looks_like_a_file(name: str) -> bool:
    """Whether a word means a file rather than a preset or a command."""
    return name.endswith(".toml") or os.path.basename(name) != name or not name


def _no_rig(name: str) -> str:
    """What to say of a bare name that is neither a file nor a preset."""
    from rackwright.store import presets

    if os.path.isfile(f"{name}.toml"):
        return f'There is no file "{name}". Did you mean "{name}.toml"?'
    known = [preset.name for preset in presets.listed()]
    hint = meant(name, known, f"Presets: {', '.join(known)}.")
    return f'There is no file and no preset "{name[:LONGEST_NAME]}". {hint}'


def nearest(name: str, known: list[str]) -> str:
    """The known name that was probably meant; empty where none is near."""
    import difflib

    return next(iter(difflib.get_close_matches(name.lower(), known, n=1, cutoff=0.5)), "")


def meant(name: str, known: Iterable[str], otherwise: str) -> str:
    """The question whether a known name was meant; `otherwise` where none is near."""
    near = nearest(name, list(known))
    return f'Did you mean "{near}"?' if near else otherwise


def known_equipment() -> "Equipment":
    """The built-in equipment with the user's own. Raises Refusal."""
    from rackwright.store.library import library
    from rackwright.store.rig_file import RigFileError

    try:
        return library()
    except RigFileError as error:
        raise Refusal(str(error)) from None
