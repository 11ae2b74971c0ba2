"""Where in a TOML file a problem stands: a path in words, and its line.

The line is found by a small scan of the text, which serves files that tomllib has read already; on anything
odder it gives the nearest line it knows, or none. Also words tomllib's own complaints for a person. Judges nothing.
"""

import re
import tomllib
from collections.abc import Iterator
from typing import Any, NamedTuple

from rackwright.model.rules import Path, Problem

_TOKEN = re.compile(
    r'"""(?:\\.|[^"\\]++|"(?!""))*+"{3,5}|'
    r"'''.*?'{3,5}|"  # text over several lines
    r'"(?:[^"\\\n]++|\\.)*+"|'
    r"'[^'\n]*+'|"
    r"\#[^\n]*|\n|[\[\]{}=,.]|[^\s\[\]{}=,.\#\"']+|[\"']",
    re.DOTALL,
)
_AT = re.compile(r"^(.*) \(at (?:line (\d+), column (\d+)|end of document)\)$", re.DOTALL)

_ONE = {"poles": "pole pair", "mode": "pair", "band": "edge"}
"""What one item of a list is called, where it is not the key without its s."""

_SYNTAX = (
    ("Invalid value", "This value can't be read", 'Put text and quantities in quotes, such as "20 m".'),
    ("Expected '='", "A key has no value", 'Write key = value, such as length = "20 m".'),
    ("Unterminated string", "The quotes of a text are never closed", "Close them."),
    ("Illegal character '\\n'", "The quotes of a text are not closed on this line", "Close them."),
    ("Illegal character", "There is a character that is not allowed here", "Delete it or type it again."),
    ("Unescaped '\\\\'", "A single backslash is not allowed in a text", "Write it twice, \\\\."),
    ("Unclosed array", "A list is not closed, or a comma is missing in it", "Write it as [1, 2]."),
    ("Unclosed inline table", "A table is not closed, or a comma is missing in it", "Write it as { a = 1, b = 2 }."),
    ("Expected ']", "A header is not closed", "Write it as [supply] or [[lines]], with as many brackets at each end."),
    ("Expected newline", "There is more text after the end of a value", "Write each key on a line of its own."),
    ("Cannot overwrite", "This table has a key twice", "Delete or rename one of the two."),
    ("Duplicate inline table key", "This table has a key twice", "Delete or rename one of the two."),
    ("Cannot declare", "This header is there twice", "Merge the two, or write [[…]] where each is one of several."),
    ("Cannot mutate", "Something is added to a table that is closed", "Write all its keys in one place."),
    ("Invalid statement", "This line is not a key, a header or a comment", 'Write key = value, such as length = "20 m".'),
    ("Invalid initial character", "A key can't start like this", "Write keys in letters, digits, - and _."),
)  # fmt: skip


class Token(NamedTuple):
    """A piece of TOML text and the line it starts on."""

    text: str
    line: int


def tokens(text: str) -> Iterator[Token]:
    """The pieces of TOML text: texts in quotes whole, comments whole, line ends."""
    line = 1
    for match in _TOKEN.finditer(text):
        token = match.group()
        yield Token(token, line)
        line += token.count("\n")


def has_comments(text: str) -> bool:
    """Whether TOML text holds a comment."""
    return any(token.text.startswith("#") for token in tokens(text))


def syntax_problem(error: ValueError) -> tuple[Problem, str]:
    """A tomllib complaint as a problem for a person, and its place: `line 3, column 5`."""
    match = _AT.match(str(error))
    said = match.group(1) if match else str(error)
    wrong, advice = next(
        ((wrong, advice) for start, wrong, advice in _SYNTAX if said.startswith(start)),
        (f"This can't be read as TOML: {said}", "Correct this line."),
    )
    if match is None:
        return Problem((), wrong, advice), ""
    where = f"line {match.group(2)}, column {match.group(3)}" if match.group(2) else "at its end"
    return Problem((), wrong, advice), where


def words(path: Path, data: Any) -> str:
    """A path in words with the ids that stand in `data`: `line "L1" › cable`."""
    parts: list[str] = []
    above: str | int = ""
    for step in path:
        data = _inside(data, step)
        if isinstance(step, str) and above == "wirings":
            parts[-1] = f'wiring "{step}"'
            above = "wiring"
            continue
        if isinstance(step, str):
            parts.append(step)
        elif above == "wiring":
            parts.append(f"pole pair {step + 1}")
        else:
            parts[-1:] = [_item(str(above), step, data)]
        above = step
    return " › ".join(parts)


def _inside(data: Any, step: str | int) -> Any:
    if isinstance(step, str):
        return data.get(step) if isinstance(data, dict) else None
    return data[step] if isinstance(data, list) and step < len(data) else None


def _item(key: str, number: int, data: Any) -> str:
    kind = _ONE.get(key, key.removesuffix("s")) or "item"
    name = data.get("id") if isinstance(data, dict) else None
    return f'{kind} "{name}"' if isinstance(name, str) and name else f"{kind} {number + 1}"


def line_of(path: Path, lines: dict[Path, int]) -> int | None:
    """The line of a path, or of the nearest table around it; None where the text doesn't hold it."""
    for length in range(len(path), 0, -1):
        if path[:length] in lines:
            return lines[path[:length]]
        if isinstance(path[length - 1], int):
            return None  # an item that the file doesn't hold stands on no line of it
    return None


def lines_of(text: str) -> dict[Path, int]:
    """The line on which each table, key and list item of TOML text stands."""
    return _Scan().read(text)


class _Open(NamedTuple):
    """A list or inline table that is open: its path, and the item's number (None in a table)."""

    path: Path
    number: int | None


class _Scan:
    """One pass over the tokens, with what is open at each."""

    def __init__(self) -> None:
        self.lines: dict[Path, int] = {}
        self.counts: dict[Path, int] = {}
        """Array of tables → how many of its tables have been met."""
        self.table: Path = ()
        self.open: list[_Open] = []
        self.here: Path = ()
        self.key: list[str] = []
        self.state = "key"
        """What is awaited: a key, a value, or the end of a header."""

    def read(self, text: str) -> dict[Path, int]:
        """Scan it all."""
        for token in tokens(text):
            if token.text.startswith("#"):
                continue
            if token.text == "\n":
                if not self.open:
                    self.state, self.key = "key", []
            elif self.state == "value":
                self.value(token)
            else:
                self.name(token)
        return self.lines

    def name(self, token: Token) -> None:
        """A piece of a key or of a header."""
        if token.text == "[" and not self.open:
            self.state = "header" if self.state == "key" else "list header"
        elif token.text == "]" and self.key:
            self.header(token.line)
        elif token.text == "=" and self.key:
            base = self.open[-1].path if self.open else self.table
            self.here = self.noted((*base, *self.key), token.line, len(base))
            self.state, self.key = "value", []
        elif token.text == "}":
            self.close()
        elif token.text not in ("]", ".", ",", "=", "[", "{"):
            self.key.append(_unquoted(token.text))

    def header(self, line: int) -> None:
        """The keys of a `[table]` or `[[table]]` are complete."""
        path: Path = ()
        for part in self.key[:-1]:
            path = (*path, part)
            if path in self.counts:
                path = (*path, self.counts[path] - 1)
        path = (*path, self.key[-1])
        self.lines.setdefault(path, line)
        if self.state == "list header":
            self.counts[path] = self.counts.get(path, 0) + 1
            path = (*path, self.counts[path] - 1)
        self.table = self.noted(path, line, 0)
        self.state, self.key = "key", []

    def value(self, token: Token) -> None:
        """A piece of a value."""
        if token.text in ("]", "}"):
            self.close()
        elif token.text == ",":
            self.next_item()
        else:
            inside = self.open[-1] if self.open else None
            if inside is not None and inside.number is not None:
                self.here = self.noted((*inside.path, inside.number), token.line, len(inside.path))
            if token.text == "[":
                self.open.append(_Open(self.here, 0))
            elif token.text == "{":
                self.open.append(_Open(self.here, None))
                self.state, self.key = "key", []

    def next_item(self) -> None:
        """A comma: the next item of a list, or the next key of a table."""
        if not self.open:
            return
        path, number = self.open[-1]
        if number is None:
            self.state, self.key = "key", []
        else:
            self.open[-1] = _Open(path, number + 1)

    def close(self) -> None:
        """A list or inline table ends."""
        if self.open:
            self.here = self.open.pop().path
        self.state, self.key = "value", []

    def noted(self, path: Path, line: int, base: int) -> Path:
        """Note the line of a path and, where it is new, of each step from `base` on."""
        for length in range(base + 1, len(path) + 1):
            self.lines.setdefault(path[:length], line)
        return path


def _unquoted(key: str) -> str:
    if key[0] not in "\"'":
        return key
    try:
        return str(tomllib.loads(f"k = {key}")["k"])
    except ValueError:
        return key
