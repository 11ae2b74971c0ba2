"""A TOML file's text and its plain data, and the error that says to a person why a file can't be used.

Every way in which reading a file can fail ends in `RigFileError`. Knows nothing of what the file holds: that
is for `rig_file` and `library`.
"""

import os
import re
import tomllib
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from rackwright.model.rules import Problem
from rackwright.store import files
from rackwright.store.toml import positions
from rackwright.units.safe_text import safe

_MOST_PARTS = 100
"""Parts of one dotted key; the reader's time grows with their square."""
_KEY = r"""(?:[\w-]++|"[^"\n]*+"|'[^'\n]*+')"""
_LONG_KEY = re.compile(rf"(?:^|[{{,\[])[ \t]*+(?:{_KEY}[ \t]*+\.[ \t]*+){{{_MOST_PARTS}}}", re.MULTILINE)
_MOST_TOLD = 100
_LONGEST_SENTENCE = 600


class RigFileError(Exception):
    """A rig or equipment file that can't be used.

    `path` names the file, `problems` holds every problem found. As text it is the whole message for a
    person: a paragraph for each problem, with its place and what to do.
    """

    def __init__(self, path: str, problems: Iterable[Problem], message: str) -> None:
        self.path = path
        self.problems = tuple(problems)
        super().__init__(message)

    @property
    def first(self) -> str:
        """The paragraph of the first problem, for where there is room for one."""
        return str(self).partition("\n\n")[0]


def read_text(path: str | os.PathLike[str]) -> str:
    """The text of a file, without a byte order mark. Raises RigFileError."""
    name = os.fspath(path)
    try:
        content = files.read(path)
    except (OSError, ValueError) as error:
        raise unreadable(name, error) from None
    try:
        return content.decode("utf-8").removeprefix("\ufeff")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise refusal(
            name,
            f"The file is not UTF-8 text: byte {content[error.start]:02X} hex is not allowed here",
            "Name a rig file, or save this one as UTF-8 in an editor.",
            f"line {line}",
        ) from None


def parse(text: str, name: str) -> dict[str, Any]:
    """The plain data of TOML text. Raises RigFileError with line and column."""
    if not text.strip():
        raise refusal(name, "The file is empty", "Start from a preset; rackwright presets lists them.")
    if long := _LONG_KEY.search(text):
        line = text.count("\n", 0, long.start()) + 1
        raise refusal(name, f"A key has more than {_MOST_PARTS} parts", "Name a rig file.", f"line {line}")
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        problem, where = positions.syntax_problem(error)
        raise refusal(name, problem.wrong, problem.advice, where) from None
    except (ValueError, RecursionError):
        raise refusal(
            name,
            "The file has a number of thousands of digits, or endlessly nested tables",
            "Name a rig file.",
        ) from None


def refusal(name: str, wrong: str, advice: str, where: str = "") -> RigFileError:
    """The error for a file as a whole, or for the one place `where`."""
    problem = Problem((), wrong, advice)
    return RigFileError(name, (problem,), _paragraph(name, where, "", problem))


def refusal_of(
    name: str, problems: Iterable[Problem], text: str, data: dict[str, Any], closing: str = ""
) -> RigFileError:
    """The error for problems inside a file, line after line, each told with its place in words."""
    lines = positions.lines_of(text)
    found = sorted(
        ((positions.line_of(problem.path, lines) or 0, problem) for problem in problems), key=_by_line
    )
    told = [
        _paragraph(name, f"line {line}" if line else "", positions.words(problem.path, data), problem)
        for line, problem in found[:_MOST_TOLD]
    ]
    if len(found) > _MOST_TOLD:
        told.append(f"There are {len(found) - _MOST_TOLD} more problems in {name}.")
    if closing:
        told.append(closing)
    return RigFileError(name, (problem for _, problem in found), "\n\n".join(told))


def _by_line(found: tuple[int, Problem]) -> int:
    return found[0]


def unreadable(name: str, error: OSError | ValueError) -> RigFileError:
    """The error for a file that can't be opened at all."""
    reasons: dict[type[Exception], tuple[str, str]] = {
        FileNotFoundError: ("There is no such file", _nearby(name)),
        IsADirectoryError: ("This is a folder", "Name a rig file in it."),
        PermissionError: ("You may not read this file", "Ask its owner, or copy it with their rights."),
        files.NoFileError: ("This is a pipe or a device, not a file", "Save what it gives to a file first."),
        files.TooLargeError: (
            f"The file is larger than {files.LARGEST // 1_000_000} MB, too large for a rig",
            "Name a rig file.",
        ),
    }
    told = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
    wrong, advice = reasons.get(
        type(error), (f"The file can't be read: {told}", "Check its name and its disk.")
    )
    return refusal(name, wrong, advice)


def _nearby(name: str) -> str:
    """What to do about a name that leads nowhere: the name in the same folder that it resembles."""
    import difflib

    path = Path(name)
    if os.path.islink(path):
        return f"It is a link, and what it leads to, {os.path.realpath(path)}, is not there."
    others = [item.name for item in files.toml_in(path.parent) if os.path.isfile(item)]
    near = difflib.get_close_matches(path.name, others, n=1, cutoff=0.6)
    return f'Did you mean "{path.with_name(near[0])}"?' if near else "Check the name and the folder."


def _paragraph(name: str, where: str, words: str, problem: Problem) -> str:
    start = ", ".join(part for part in (name, where) if part)
    sentence = ": ".join(part for part in (start, words, f"{problem.wrong}. {problem.advice}") if part)
    return safe(_clipped(sentence))


def _clipped(sentence: str) -> str:
    if len(sentence) <= _LONGEST_SENTENCE:
        return sentence
    return f"{sentence[: _LONGEST_SENTENCE * 2 // 3]} … {sentence[-_LONGEST_SENTENCE // 3 :]}"
