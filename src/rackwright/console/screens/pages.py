"""Screens to read: the findings, the working of a figure, every key.

Each is rows made from values for the width there is. Holds no judgement and no figure of its own.
"""

from collections.abc import Iterable, Iterator, Sequence

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.events import Key, Resize
from textual.widgets import Label, Static

from rackwright.console import keymap
from rackwright.console.keymap import Command
from rackwright.console.rows.advice import by_keys
from rackwright.console.rows.row import Row, caution, cut, fit, hanging, heading, width_of, words, wrapped
from rackwright.console.terminal.glyphs import Glyphs
from rackwright.console.widgets.dialog import (
    AROUND_PAGE,
    ROLLING,
    SCROLLS,
    Box,
    Dialog,
    Hint,
    Lines,
    Page,
    nearest,
    styled,
)
from rackwright.console.widgets.fields import Option
from rackwright.console.widgets.pane import MakeRows, Pane
from rackwright.engine import cautions
from rackwright.engine.assess import Assessed
from rackwright.engine.demand import SUPPLY
from rackwright.engine.finding import SEVERITIES, Finding, counted, grouped, message_of, sentence_of
from rackwright.engine.findings.meanings import MEANINGS
from rackwright.engine.workings import NoWorkingError, Step, Working, explain
from rackwright.units.text_table import formula, numbers

FRAME = 7
"""Cells beside a page's words: frame, padding, scroll bar, and one to spare."""
WIDEST, LIST = 100, 180
"""Cells of a page, and of the list of findings at most: it is no wider than what stands in it."""
AROUND_FINDINGS = 10
"""Lines that the list of findings leaves to frame, title, caution and keys."""
FEWEST = 5
"""Findings seen at once at least."""
SHORT = 6
"""Cells of places that stand in a column even in a slim list."""


EDGES = (Binding("home", "edge(-1)", show=False), Binding("end", "edge(1)", show=False))


class FlowingPage(Page):
    """A page whose rows are made anew for each width."""

    BINDINGS = [*EDGES]

    def __init__(self, title: str, make: MakeRows, glyphs: Glyphs, widest: int | None = None) -> None:
        super().__init__(title, (), glyphs)
        self.make, self.widest = make, widest or WIDEST
        self.set_class(glyphs.ascii, "ascii")

    def body(self) -> Lines:
        return Lines(self.glyphs)

    def on_resize(self, event: Resize) -> None:
        """Make the rows for the new width, and leave room for title and keys."""
        scroll = self.query_one(VerticalScroll)
        if self.widest != WIDEST:
            self.query_one(".box").styles.width = self.widest
        scroll.styles.max_height = max(3, event.size.height - AROUND_PAGE)
        self._flow(event.size.width)

    def _flow(self, width: int) -> None:
        """Show the rows as they are now in a window of that width."""
        self.rows = self.make(min(width, self.widest) - FRAME)
        self.query_one(Lines).show(self.rows)
        self.say_keys()

    def action_edge(self, by: int) -> None:
        scroll = self.query_one(VerticalScroll)
        scroll.scroll_to(y=0 if by < 0 else scroll.max_scroll_y, animate=False, immediate=True)


# --- findings -----------------------------------------------------------------------------------------


class FindingsList(Dialog):
    """Every finding, the gravest first. Gives the place of the one picked, None where it was left."""

    BINDINGS = [
        Binding("q", "leave", show=False),
        Binding("enter", "pick", "go there", priority=True),
        Binding("w", "explain", "what it means", show=False),
    ]

    def __init__(self, findings: Sequence[Finding], glyphs: Glyphs) -> None:
        super().__init__(classes="ascii" if glyphs.ascii else None)
        self.findings, self.glyphs = findings, glyphs
        self.groups = grouped(findings)
        rows = finding_rows(self.groups, LIST, glyphs)
        longest = max(len("".join(text for text, _ in row.parts).rstrip()) for row in rows)
        self.widest = max(WIDEST, min(longest + 1 + FRAME, LIST))

    def compose(self) -> ComposeResult:
        with Box("wide"):
            yield Label(tally(self.findings), classes="title")
            pane = Pane("", self.glyphs, "findings")
            yield pane
            yield Static("", id="full")
            yield Static(cautions.PLANNING, classes="caution")
            acting = ("up/down move", "enter go there", "w why") if self.findings else ()
            yield Hint(*acting, "esc close")

    def on_mount(self) -> None:
        pane = self.query_one(Pane)
        pane.show(lambda width: finding_rows(self.groups, width, self.glyphs))
        pane.focus()

    def on_resize(self, event: Resize) -> None:
        """Take the width that the list asks for."""
        self.query_one(".box").styles.width = self.widest
        self._tell()

    def on_pane_selected(self) -> None:
        self._tell()

    def _tell(self) -> None:
        """All that the finding under the cursor says on as many lines as it takes, the list on what is left."""
        pane, full = self.query_one(Pane), self.query_one("#full", Static)
        height, width = self.size.height - AROUND_FINDINGS, min(self.size.width, self.widest) - FRAME
        rows = [words("No problems found.", "ok")]
        if self.groups:
            rows = full_rows(self.groups[max(pane.nth, 0)], width, self.glyphs)
        full.update(styled(rows, self.glyphs))
        told = max(1, min(len(rows), height - FEWEST))
        full.styles.height, full.styles.margin, pane.display = told, (1, 0), bool(self.groups)
        pane.styles.height = max(1, min(len(self.groups), height - told))

    def on_pane_activated(self) -> None:
        self.action_pick()

    def action_pick(self) -> None:
        self.dismiss(self.query_one(Pane).place or None)

    def action_explain(self) -> None:
        """Say what the finding under the cursor means, its limit with the source, what to do."""
        if self.findings:
            code = self.groups[max(self.query_one(Pane).nth, 0)][0].code
            self.app.push_screen(meaning_page(code, self.glyphs))


def meaning_page(code: str, glyphs: Glyphs) -> Page:
    """What a finding of that code means."""
    meaning = MEANINGS[code]

    def rows(width: int) -> list[Row]:
        def said(text: str) -> Iterator[Row]:
            return (words(line) for line in wrapped(text, width, glyphs))

        limits = [row for each in meaning.limit_words() for row in said(each)]
        return [
            *said(meaning.means),
            *((words(""), heading("Limit"), *limits) if limits else ()),
            words(""),
            heading("What to do"),
            *said(by_keys(meaning.do)),
            *caution(cautions.PLANNING, width),
        ]

    return FlowingPage(code.replace("-", " ").capitalize(), rows, glyphs)


def tally(findings: Sequence[Finding]) -> str:
    """How many findings of each severity: `Findings: 1 stop, 2 warnings, 0 notes`."""
    counts = dict.fromkeys(SEVERITIES, 0)
    for finding in findings:
        counts[finding.severity] += 1
    return "Findings: " + ", ".join(counted(counts[severity], severity) for severity in SEVERITIES)


def finding_rows(groups: Sequence[Sequence[Finding]], width: int, glyphs: Glyphs) -> list[Row]:
    """A line for each finding, for those that say the same one: severity, place, and of the message what fits."""
    if not groups:
        return [words("No problems found.", "ok")]
    at = [f"{group[0].at or 'rig'}{f' +{len(group) - 1}' if group[1:] else ''}" for group in groups]
    longest = min(max(map(len, at)), max(18, width // 4))
    slim = width < WIDEST - FRAME - 1 and longest > SHORT  # a column of places would take of what is said
    sizes = [min(len(where), longest) if slim else longest for where in at]
    return [
        Row(
            (
                (f"{group[0].severity:<5}", group[0].severity),
                (f"{fit(where, size)}  ", "head"),
                (cut(_beside_its_place(group), width - size - 7, glyphs), ""),
            ),
            group[0].at,
        )
        for group, where, size in zip(groups, at, sizes, strict=True)
    ]


def _beside_its_place(group: Sequence[Finding]) -> str:
    """What a finding says, without its place before it: as a sentence of its own."""
    said = message_of(group)
    rest = said.removeprefix(f"{group[0].at} ")
    return said if rest == said else rest[:1].upper() + rest[1:]


def full_rows(group: Sequence[Finding], width: int, glyphs: Glyphs) -> list[Row]:
    """All that findings say that say the same, and what to do."""
    said = wrapped(sentence_of(group), width, glyphs)
    advice = wrapped(by_keys(group[0].advice), width, glyphs)
    return [*(words(text) for text in said), *(words(text, "head") for text in advice)]


# --- the working of a figure --------------------------------------------------------------------------


def working_page(assessment: Assessed, place: str, figure: str, glyphs: Glyphs) -> Page:
    """The working of a figure of a place; why there is none, where there is none."""
    try:
        found = explain(assessment, place or SUPPLY, figure)
    except NoWorkingError as error:
        told = str(error)
        if place in assessment.index.feeds:  # what it says is for who types names
            told = f"Go to a cabinet that plays {place}, and press w on a figure of its sections."
        return FlowingPage(
            "Working", lambda width: [words(text) for text in wrapped(told, width, glyphs)], glyphs
        )
    title = f"{place or 'The whole rig'}: {found[0].label}"

    def rows(width: int) -> list[Row]:
        made: list[Row] = []
        for number, working in enumerate(found):
            made += [words("")] if number else []
            made += working_rows(working, width, glyphs, named=len(found) > 1)
        return [*made, *caution(cautions.PLANNING, width)]

    widest = max(map(width_of, rows(BROAD - FRAME))) + FRAME
    return FlowingPage(title, rows, glyphs, max(WIDEST, min(widest, BROAD)))


def working_rows(working: Working, width: int, glyphs: Glyphs, *, named: bool = False) -> list[Row]:
    """A working step by step: what, formula, numbers, result, source; `named`, under the place's name."""
    last = len(working.steps)
    rows = [heading(working.place)] if named else []
    for number, step in enumerate(working.steps, 1):
        rows += _step(step, f"{number}" if last > 1 else "", number == last, width, glyphs)
        rows += [words("")] if number < last else []
    return rows


def _step(step: Step, number: str, last: bool, width: int, glyphs: Glyphs) -> Iterator[Row]:
    lead = f"{number:>2}  " if number else ""
    indent, room = " " * len(lead), width - len(lead)
    yield from hanging((lead, "dim"), (step.what, "head"), width, glyphs)
    for text in wrapped(formula(step.formula), room, glyphs, "  "):
        yield words(indent + text)
    if step.numbers not in ("", step.result):
        for text in wrapped(numbers(step.numbers), room, glyphs, "  "):
            yield words(indent + text)
    yield words(f"{indent}= {step.result}", "ok" if last else "")
    for text in wrapped(f"source: {step.source}", room, glyphs, "  "):
        yield words(indent + text, "dim")


# --- keys ---------------------------------------------------------------------------------------------

COLUMN = 44
"""Cells that a column of keys takes at least."""
BETWEEN = 3
KEY = 7
"""Cells of a key and what parts it from its words, where no key of its group is longer."""
ARROWS = "arrows", "Move; home and end, page up and page down too"
BROAD = 150
"""Cells of the page at most: two columns with each key on one line."""


class HelpPage(FlowingPage, inherit_bindings=False):
    """Every key by group, in two columns where they fit, and the caution; typing narrows it to the keys that are found so."""

    HINT = ("type to search", SCROLLS, "esc close")
    BINDINGS = [Binding("escape", "leave", show=False), *ROLLING, *EDGES]

    def __init__(self, glyphs: Glyphs) -> None:
        self.typed = ""
        super().__init__("Keys", lambda width: help_rows(width, glyphs, self.typed), glyphs, BROAD)

    def on_key(self, event: Key) -> None:
        """A letter is searched for too, a slash before it only begins; backspace takes the last one off."""
        if event.key == "backspace":
            self.typed = self.typed[:-1]
        elif event.character and event.is_printable:
            self.typed = self.typed.removeprefix("/") + event.character
        else:
            return
        event.stop()
        self.query_one(".title", Label).update(
            self.glyphs.spelt(f"Keys: {self.typed}" if self.typed else "Keys")
        )
        self._flow(self.size.width)
        self.action_edge(-1)


def help_page(glyphs: Glyphs) -> Page:
    """Every key, to read or to search."""
    return HelpPage(glyphs)


def keys_of(title: str, commands: Iterable[Command], glyphs: Glyphs) -> Page:
    """The keys of one screen."""
    keys = [(each.key_words, each.help) for each in commands if each.help]
    keys += [] if any("up" in key.split() for key, _ in keys) else [ARROWS]
    return FlowingPage(f"Keys: {title}", lambda width: list(_keys(keys, width, glyphs)), glyphs)


def help_rows(width: int, glyphs: Glyphs, typed: str = "") -> list[Row]:
    """Every key by group for a width, and the caution at the end; with something typed only what is found by it."""
    heeded = caution(f"{cautions.REPATCHING} {cautions.PLANNING}", width)
    if typed or width < 2 * COLUMN + BETWEEN:
        found = [row for block in _blocks(width, glyphs, typed) for row in (*block, words(""))]
        return (found or [words("nothing matches", "dim"), words("")]) + heeded[1:]
    half = (width - BETWEEN) // 2
    left, right = _columns(_blocks(half, glyphs))
    return _beside(left, right, half) + heeded


def _blocks(width: int, glyphs: Glyphs, typed: str = "") -> list[list[Row]]:
    """A heading and its keys for each group that has any found by what is typed."""
    entries = [
        *((c.group, Option(c.key_words, c.help, c.also)) for c in keymap.COMMANDS),
        *(("Move", Option(*each)) for each in keymap.MOVES),
        *(("Symbols on the panes", Option(*each)) for each in keymap.SIGNS),
    ]
    found = nearest(typed, [option for _, option in entries])
    groups: dict[str, list[Option]] = {}
    for group, option in entries:
        if option in found:
            groups.setdefault(group, []).append(option)
    return [
        [heading(name), *_keys([(key, told) for key, told, *_ in keys], width, glyphs)]
        for name, keys in groups.items()
    ]


def _keys(keys: Sequence[tuple[str, str]], width: int, glyphs: Glyphs) -> Iterator[Row]:
    """Keys under one another, what they do beside them."""
    lead = max(KEY, *(len(key) + 2 for key, _ in keys))
    for key, told in keys:
        yield from hanging((f"{key:<{lead}}", "head"), (told, ""), width, glyphs)


def _columns(blocks: Sequence[list[Row]]) -> tuple[list[Row], list[Row]]:
    """The blocks in their order in two columns, as even as they go."""

    def stacked(some: Sequence[list[Row]]) -> list[Row]:
        return [row for number, block in enumerate(some) for row in ([words("")] if number else []) + block]

    cut = min(range(1, len(blocks)), key=lambda at: max(len(stacked(blocks[:at])), len(stacked(blocks[at:]))))
    return stacked(blocks[:cut]), stacked(blocks[cut:])


def _beside(left: list[Row], right: list[Row], width: int) -> list[Row]:
    """Two columns of rows, the left one `width` cells wide."""
    rows = []
    for number in range(max(len(left), len(right))):
        first = left[number] if number < len(left) else words("")
        second = right[number].parts if number < len(right) else ()
        gap = " " * (width + BETWEEN - width_of(first))
        rows.append(Row((*first.parts, (gap, ""), *second), selectable=False))
    return rows
