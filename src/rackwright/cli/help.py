"""`help`: a page on a topic: units, files, keys and papers from the program's own tables; night, mains and meter in words."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any, Literal, NamedTuple, get_args, get_origin
from unicodedata import normalize

import click
import msgspec
from msgspec import Struct

from rackwright.cli.opening import Refusal, meant
from rackwright.cli.page import Page
from rackwright.cli.status import USAGE
from rackwright.cli.words import Word
from rackwright.engine import cautions
from rackwright.model.fields import Field, fields
from rackwright.model.rig import Rig
from rackwright.model.venue_facts import VenueFacts
from rackwright.units import NOTHING, ConductorSize, Quantity, figure, of_si
from rackwright.units.typography import spelled

PAPERS = {
    "cover": "the verdict, what is in the bundle, what changed since the papers before",
    "page": "a small rig on one page",
    "rack": "each rack: its front from the top unit down, and its output panel",
    "stage": "where cabinets stand, with their lines",
    "path": "from each feed to the sections that it reaches",
    "patch": "each socket, pole pair by pole pair",
    "lines": "each line with both ends, then each cabinet by position",
    "pull": "what to pull from the store",
    "labels": "tape for lines, sockets and racks",
    "meter": "what a meter should show, to fill in",
    "processor": "feeds, what limiters to type, and these by gain",
    "mains": "circuits, loading, in which order to switch on",
    "findings": "what is wrong, the most severe first",
    "equipment": "the data used in the calculation",
    "night": "the night log; where something has failed",
    "response": "what cables do to the sound; by its name only",
    "door": "the best plan for each failure, for the rack door; by its name only",
}
WORDS: Mapping[str, tuple[str, ...]] = {
    "night": (
        "When something fails, mark it in the console with `f`, or say what is heard with `h`: the plans are under `R`.",
        "A plan that you take becomes a list of steps to tick; what it changed is returned after the repair by a list of its own. "
        "`L` locks the rig against edits by mistake and leaves the keys of a failure.",
        "`F` rehearses every failure before the show. By command: `rackwright diagnose`, `rackwright recover`, `rackwright rehearse`.",
        "What happens is noted beside the rig file; `rackwright night` prints it, and `V` closes the night at its venue.",
        cautions.RECOVERING,
    ),
    "mains": (
        "List the intake, boards, circuits and what else hangs on them under `M`, or in the file as [supply], [[boards]], "
        "[[circuits]] and [[loads]]; each amplifier names its circuit.",
        "Currents are given at programme (music just below clipping) and driven hard, each against its breaker; currents of "
        "several phases are never added.",
        "`rackwright circuits` shows how long a breaker is likely to carry it, in which order to switch on and what to move; "
        "`rackwright why RIG P1` how a figure came about; `rackwright explain circuit-near-limit` what a finding means.",
        cautions.PLANNING,
    ),
    "meter": (
        "`i` shows what a meter should read on every pole pair of every line, with limits, and judges what you type; "
        "`rackwright meter` does the same by a sheet, which it writes with --csv and judges with --readings.",
        "Measure at the near end of a line with its plug pulled and everything behind it plugged in. State the leads' "
        "resistance and, after a show, the temperature of the coils: both change what is expected.",
        "A reading that fits two states is not proved until somebody has listened; one that is within its limits and not what "
        "it was has drifted.",
        cautions.METER,
    ),
}
"""Paragraphs; `keys` and `commands` in backticks, which a test looks up."""


@click.command()
@click.argument("topic", type=Word(lambda _: TOPICS), required=False)
def command(topic: str | None) -> None:
    """Read a page: units, files, keys, papers, night, mains or meter.

    Without TOPIC, lists the pages. For a command, use its --help.
    """
    if topic is None:
        _topics().print()
        return
    if topic not in TOPICS:
        hint = meant(topic, TOPICS, f"There are: {', '.join(TOPICS)}.")
        raise Refusal(f'There is no page "{topic}". {hint}', USAGE)
    TOPICS[topic].page().print()


def _topics() -> Page:
    page = Page()
    page.heading("Pages to read")
    for name, topic in TOPICS.items():
        page.say(topic.told, first=f"rackwright help {name:8}", rest="  ")
    page.gap()
    page.say("For a command: rackwright COMMAND --help. For a finding: rackwright explain CODE.")
    return page


def _units() -> Page:
    """Each kind of quantity: how it may be typed, and within which limits."""
    page = Page()
    page.heading("Quantities, as you may type them")
    page.say(
        "A quantity has a unit, and is kept as you typed it. In a form a bare number takes the unit of the field."
    )
    page.gap()
    rows = [
        (
            kind.dimension.partition(" ")[2],
            ", ".join(kind.examples),
            _limits(kind),
            _spellings(kind),
        )
        for kind in Quantity.__subclasses__()
    ]
    page.table(("quantity", "such as", "limits", "units"), rows)
    return page


def _spellings(kind: type[Quantity]) -> str:
    """Its units in plain letters, each once: signs that look alike stand for one."""
    plain = (spelled(normalize("NFKC", unit), "ascii") for unit in kind.spellings)
    return " ".join(dict.fromkeys(plain))


def _limits(kind: type[Quantity]) -> str:
    if not kind.spellings:
        return NOTHING
    if kind is ConductorSize:
        return "0.5 mm2 to 35 mm2, 24 AWG to 4/0 AWG"
    return f"{of_si(kind, kind.low)} to {of_si(kind, kind.high)}"


SOURCES = {
    "voltage and frequency": "IEC 60038, from memory",
    "generator_power_factor": "ISO 8528-1, from memory",
    "ql": "Small, 1973, from memory",
}
"""Of the defaults that are somebody's: what says so."""


def _files() -> Page:
    """Every key of rig, venue and equipment files."""
    page = Page()
    page.heading("Keys of a rig file")
    page.say(
        "A rig file is TOML. A venue file holds the tables of it that stay at the venue, an equipment file those under "
        "equipment. A key that is not needed may be left out: it stands for its default. Limits catch what was mistyped, and "
        f"are our own. What a default is from: {'; '.join(f'{key}: {source}' for key, source in SOURCES.items())}; all other "
        "figures: common practice, no source."
    )
    of_rig = tuple(tables(Rig))
    _tables(page, of_rig)
    page.heading("Keys of a venue file, where they are others")
    _tables(page, (each for each in tables(VenueFacts) if each not in of_rig))
    return page


def _tables(page: Page, found: Iterable[tuple[str, list[tuple[str, ...]]]]) -> None:
    for table, rows in found:
        page.heading(f"[{table}]" if table else "At the top")
        page.table(("key", "what it is", "such as", "limits", "default"), rows)


def tables(file: type[Struct]) -> Iterator[tuple[str, list[tuple[str, ...]]]]:
    """Each table of a kind of file by its name, with a row for each key that holds a value: its words, example, limits and default."""
    waiting: list[tuple[str, type[Struct]]] = [("", file)]
    while waiting:
        table, kind = waiting.pop(0)
        if table.startswith("night.baseline."):  # the same tables, as they were
            continue
        known = {field.key: field for field in fields(kind)}
        rows = []
        for own in msgspec.structs.fields(kind):
            below = [
                part
                for part in _parts(own.type)
                if issubclass(part, Struct) and not issubclass(part, Quantity)
            ]
            for part in below:
                inner = f"{table}.{own.encode_name}" if table else own.encode_name
                waiting.append((inner, part))
            if not below:
                rows.append(_row(own, known.get(own.encode_name)))
        if rows:
            yield table, rows


def _parts(kind: Any) -> Iterator[type]:
    """The types that a key's type is made of, choices aside."""
    if get_origin(kind) is Literal:
        return
    if isinstance(kind, type) and not get_args(kind):
        yield kind
    for part in get_args(kind):
        if part is not Ellipsis:
            yield from _parts(part)


def _row(own: msgspec.structs.FieldInfo, field: Field | None) -> tuple[str, ...]:
    choices = [str(choice) for choice in _choices(own.type) if choice != ""]
    measured = next((part for part in _parts(own.type) if issubclass(part, Quantity)), None)
    proposed = str(own.default) if measured and isinstance(own.default, measured) else ""
    typed = proposed or (field.example if field else "") or (measured.examples[0] if measured else "")
    limits = _limits(measured) if measured else ""
    if field and field.low > float("-inf"):
        limits = f"{figure(field.low)} to {figure(field.high)}"
    return (
        own.encode_name,
        field.label if field else own.encode_name.replace("_", " ").capitalize(),
        ", ".join(choices) or typed,
        limits,
        _if_left_out(own, field),
    )


def _if_left_out(own: msgspec.structs.FieldInfo, field: Field | None) -> str:
    if own.required:
        return f"needed; not known: {field.assumed}" if field and field.assumed else "needed"
    return field.empty if field and field.empty else _default(own)


def _choices(kind: Any) -> Iterator[Any]:
    if get_origin(kind) is Literal:
        yield from get_args(kind)
    else:
        for part in get_args(kind):
            yield from _choices(part)


def _default(own: msgspec.structs.FieldInfo) -> str:
    value = own.default if own.default is not msgspec.NODEFAULT else None
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, tuple):
        return " to ".join(map(str, value)) or NOTHING
    return NOTHING if value in (None, "") else str(value)


def _keys() -> Page:
    """Every key of the console, group by group."""
    from rackwright.console.commands import COMMANDS  # takes the toolkit with it
    from rackwright.console.keymap import GROUPS, MOVES

    page = Page()
    for group in GROUPS:
        page.heading(group)
        rows = [(each.key_words, each.help) for each in COMMANDS if each.group == group]
        for key, words in (*rows, *(MOVES if group == "Move" else ())):
            page.say(words, first=f"{key:10} ")
    return page


def _papers() -> Page:
    """Every sheet."""
    from rackwright.papers.contents import FORMATS

    page = Page()
    page.heading("Sheets for the crew")
    page.say(f"rackwright papers RIG --out DIR writes them as {', '.join(FORMATS)}; --only names some.")
    page.gap()
    for name, words in PAPERS.items():
        page.say(words, first=f"{name:10} ")
    page.gap()
    page.say(cautions.PLANNING)
    return page


def _words(topic: str) -> Callable[[], Page]:
    def page() -> Page:
        made = Page()
        made.heading(topic.capitalize())
        for number, paragraph in enumerate(WORDS[topic]):
            if number:
                made.gap()
            made.say(paragraph.replace("`", ""))
        return made

    return page


class _Topic(NamedTuple):
    """A page, and what it is about."""

    told: str
    page: Callable[[], Page]


TOPICS: Mapping[str, _Topic] = {
    "units": _Topic("how quantities may be typed", _units),
    "files": _Topic("every key of rig, venue and equipment files", _files),
    "keys": _Topic("every key of the console", _keys),
    "papers": _Topic("the sheets for the crew", _papers),
    "night": _Topic("what to do when something fails", _words("night")),
    "mains": _Topic("circuits, and what they carry", _words("mains")),
    "meter": _Topic("checking lines with a meter", _words("meter")),
}
