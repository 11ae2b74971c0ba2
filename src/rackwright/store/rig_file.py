"""Rig files: TOML to a rig and back.

`load` reports all problems of a file together, each with its place; the rig it gives keeps every rule and carries
every equipment entry it uses. `save` never loses what stood in the file before. Holds no undo, no journal and no lock.
"""

import itertools
import os
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from msgspec.structs import replace

from rackwright.model import rules
from rackwright.model.equipment import EQUIPMENT_KINDS, Equipment, LoudspeakerModel
from rackwright.model.index import equipment_uses
from rackwright.model.rig import FORMAT, Rig
from rackwright.store import files
from rackwright.store.home import home
from rackwright.store.library import followed_by
from rackwright.store.library import library as whole_library
from rackwright.store.safe import atomic_write
from rackwright.store.safe.atomic_write import SaveError
from rackwright.store.toml import former, positions
from rackwright.store.toml.decode import LONGEST_TEXT, decode
from rackwright.store.toml.encode import as_toml, plain
from rackwright.store.toml.read import RigFileError, parse, read_text, refusal, refusal_of

__all__ = ["RigFileError", "SaveError", "dumps", "load", "loads", "save"]

_NOT_CHECKED_YET = "References and wiring can only be checked once this is fixed."


def load(path: str | os.PathLike[str], library: Equipment | None = None) -> Rig:
    """The rig of a file.

    Equipment that the file doesn't carry comes from `library`; by default the user's over the built-in one,
    which is then read only where it is needed. Raises RigFileError.
    """
    return loads(read_text(path), os.fspath(path), library)


def loads(text: str, name: str = "rig", library: Equipment | None = None) -> Rig:
    """The rig of a file's text, `name` being what messages call the file. Raises RigFileError."""
    data = former.rig_of_today(parse(text, name))
    if later := _other_format(data):
        raise refusal_of(name, later, text, data)
    if "name" not in data and any(kind in data for kind in EQUIPMENT_KINDS):
        raise refusal(
            name,
            "This is an equipment file, not a rig",
            f"Put it in {home() / 'equipment'}, where every rig finds what is in it.",
        )
    own, problems = decode(data, Rig)
    if own is None:
        raise refusal_of(name, problems, text, data, _NOT_CHECKED_YET)
    rig, everything = _equipped(own, library)
    told = {problem.path for problem in problems}
    problems += tuple(problem for problem in _breaches(rig, everything) if problem.path not in told)
    if problems:
        shown = {**data, "equipment": plain(rig.equipment)}
        raise refusal_of(name, problems, text, shown)
    return former.with_bases(rig)


def dumps(rig: Rig) -> str:
    """The rig as the text of a rig file; `loads` gives an equal rig back."""
    return as_toml(plain(rig))


def save(rig: Rig, path: str | os.PathLike[str]) -> Path | None:
    """Write the rig to a file, wholly or not at all. Raises SaveError, the former file being untouched.

    A rig holds no comments. Where the former file has some, or isn't TOML, its text is first copied beside it, as
    `NAME.before-save.toml` (`NAME.before-save-2.toml` and so on where that is taken by another text). Returns the path
    of that copy, None where none was needed.
    """
    try:
        content = dumps(rig).encode("utf-8")
    except UnicodeEncodeError as error:
        odd = error.object[error.start]
        reason = f"a text in the rig has half a character (U+{ord(odd):04X})"
        raise SaveError(path, reason, "Find it and type it again.") from None
    if len(content) > files.LARGEST or any(len(text) > LONGEST_TEXT for text in _texts(plain(rig))):
        raise SaveError(path, "a text in the rig is so long that it could not be read again", "Cut it first.")
    aside = _kept_aside(path)
    atomic_write.write(path, content)
    return aside


ASIDE = "The previous text, with its comments, is saved in"


def told_aside(aside: Path | None) -> str:
    """What to say of the copy that a save made of a text with comments; empty where it made none."""
    return f"{ASIDE} {aside}." if aside else ""


def _texts(value: Any) -> Iterator[str]:
    """Every text in plain data."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict | list):
        for item in value.values() if isinstance(value, dict) else value:
            yield from _texts(item)


def _other_format(data: dict[str, Any]) -> tuple[rules.Problem, ...]:
    """The one problem worth telling of a file whose format is another."""
    number = data.get("format", FORMAT)
    if not isinstance(number, int) or isinstance(number, bool) or number == FORMAT:
        return ()
    if abs(number) >= 2**63:
        return ()  # decoding says what is wrong with it
    return rules.check(Rig(format=number, name=""))


def _breaches(rig: Rig, everything: Equipment) -> tuple[rules.Problem, ...]:
    """The rules a rig breaks, each told with all of the equipment there is to choose from."""
    problems = rules.check(rig) or tuple(rules.check_baseline(rig))
    if not problems or everything is rig.equipment:
        return problems
    fuller = {(p.path, p.wrong): p for p in rules.check(replace(rig, equipment=everything))}
    return tuple(fuller.get((p.path, p.wrong), p) for p in problems)


def _equipped(rig: Rig, library: Equipment | None) -> tuple[Rig, Equipment]:
    """The rig with every entry it uses, and all entries it could use; the rig's own come first, in its order."""
    own = rig.equipment
    wanted = _wanted(rig, own.loudspeakers)
    if all(ids <= {entry.id for entry in getattr(own, kind)} for kind, ids in wanted.items()):
        return rig, own
    known = whole_library() if library is None else library
    rig = former.with_ids(rig, followed_by(own, known))
    own, everything = rig.equipment, followed_by(rig.equipment, known)
    placed = {cabinet.model for cabinet in rig.cabinets}
    wanted = _wanted(
        rig, (*own.loudspeakers, *(entry for entry in everything.loudspeakers if entry.id in placed))
    )
    used = {
        kind: tuple(
            entry
            for i, entry in enumerate(getattr(everything, kind))
            if i < len(getattr(own, kind)) or entry.id in ids
        )
        for kind, ids in wanted.items()
    }
    return replace(rig, equipment=Equipment(**used)), everything


def _wanted(rig: Rig, loudspeakers: tuple[LoudspeakerModel, ...]) -> dict[str, set[str]]:
    """The ids of the equipment that a rig and those loudspeakers refer to, by kind."""
    wanted: dict[str, set[str]] = {kind: set() for kind in EQUIPMENT_KINDS}
    for kind, name, _ in equipment_uses(replace(rig, equipment=Equipment(loudspeakers=loudspeakers))):
        wanted[kind].add(name)
    return wanted


def _kept_aside(path: str | os.PathLike[str]) -> Path | None:
    """Copy the text of the file to be replaced beside it, where a save would lose some of it. Raises SaveError."""
    try:
        target = Path(os.path.realpath(path))
        former = files.read(target) if os.path.isfile(target) else b""
    except (OSError, ValueError) as error:
        raise atomic_write.save_error(path, error) from None
    if not loses(former):
        return None
    copy = next(name for name in _names_beside(target) if _content(name) in (None, former))
    if _content(copy) is None:
        try:
            atomic_write.write(copy, former, like=target)
        except SaveError as error:
            reason = f"its comments can't be saved in {copy.name}, because {error.reason}"
            raise SaveError(path, reason, error.advice) from None
    return copy


def loses(former: bytes) -> bool:
    """Whether a save would lose what a person wrote in that file: comments, or text that is no TOML at all."""
    if not former.strip():
        return False
    try:
        text = former.decode("utf-8").removeprefix("\ufeff")
        tomllib.loads(text)
    except (ValueError, RecursionError):
        return True
    return positions.has_comments(text)


def _names_beside(target: Path) -> Iterator[Path]:
    yield target.with_name(f"{target.stem}.before-save{target.suffix}")
    yield from (target.with_name(f"{target.stem}.before-save-{n}{target.suffix}") for n in itertools.count(2))


def _content(path: Path) -> bytes | None:
    """What a file holds; None where there is none, empty where it can't be known."""
    try:
        return files.read(path)
    except FileNotFoundError:
        return None
    except OSError:
        return b""
