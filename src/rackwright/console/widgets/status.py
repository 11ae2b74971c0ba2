"""What stands at the foot: what is said, how the rig stands, and the keys that act here."""

from collections.abc import Collection, Sequence

from rich.cells import cell_len
from rich.segment import Segment
from rich.text import Text
from textual.content import Content
from textual.geometry import Size
from textual.reactive import Reactive
from textual.strip import Strip
from textual.visual import Visual
from textual.widgets import Static

from rackwright.console.keymap import Command
from rackwright.console.rows.row import Part
from rackwright.console.session import Session
from rackwright.console.terminal.glyphs import Glyphs
from rackwright.console.widgets.pane import LOOKS, Bare
from rackwright.engine import outage, recovery
from rackwright.engine.finding import SEVERITIES, counted
from rackwright.engine.limits import LOADINGS
from rackwright.model.night import NightList
from rackwright.model.rig import Rig
from rackwright.units.formatting import whole_percent
from rackwright.units.text_table import wrap


class Foot(Bare):
    """One line of styled words, repainted only when they change."""

    def __init__(self, glyphs: Glyphs, id: str) -> None:
        super().__init__(id=id)
        self.glyphs = glyphs
        self.parts: Sequence[Part] = ()

    def say(self, parts: Sequence[Part]) -> None:
        """Show this line."""
        if parts != self.parts:
            self.parts = parts
            self.refresh()

    def render_line(self, y: int) -> Strip:
        """The line, a sign instead of what would be cut at its end: as the toolkit asks for it, which a text costs ten times as long."""
        shown: list[Segment] = []
        room = self.size.width
        for words, style in self.parts if y == 0 else ():
            told = self.glyphs.spelt(words)
            if cell_len(told) > room and shown:
                sign = self.glyphs.spelt(" …")
                while shown and (shown[-1].text.endswith(" ") or len(sign) > room):
                    room += shown.pop().cell_length
                shown.append(Segment(sign[:room], LOOKS["dim"]))
                break
            room -= cell_len(told)
            shown.append(Segment(told, LOOKS[style]))
        return Strip(shown)


OVER = 2
"""Lines of a pane that what is said takes at most besides the pane's frame."""


class Said(Static):
    """A sentence or two above the foot, over what stands there; gone where there is nothing to say."""

    virtual_size = Reactive(Size(0, 0), layout=False)
    """What it takes is what it was laid out with: the toolkit would lay out the whole screen again for that."""

    def __init__(self, glyphs: Glyphs) -> None:
        super().__init__(id="said")
        self.glyphs = glyphs
        self.told = Text()

    def render(self) -> Text | Visual:
        """All of it, or the words that there are lines for and a sign that there are more."""
        room = self.screen.size.width - self.styles.margin.width - self.gutter.width
        told = self.told if self.told.spans else Text.assemble((self.told.plain, str(self.told.style)))
        lines = [line.rstrip() for line in Content.from_rich_text(told).wrap(max(1, room))]
        if len(lines) <= OVER + 1:
            return self.visual
        more = self.glyphs.spelt(" …")
        last = lines[OVER][: len(wrap(lines[OVER].plain, room - len(more))[0])] + more
        return Content("\n").join([*lines[:OVER], last])

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """By all of it: what was cut for another width is laid out again."""
        return self.visual.get_height({}, max(1, width))

    def say(self, text: str | Text, style: str = "") -> None:
        """Say this; a text that has its looks already is spelt too."""
        told = text if isinstance(text, Text) else Text(self.glyphs.spelt(text), style)
        if (told.plain, told.style) == (self.told.plain, self.told.style):
            return
        self.told = told
        # as a span: the toolkit reads the style of a whole text as one of its own, of other colours
        self.update(told if told.spans else Text.assemble((told.plain, str(told.style))))
        self.styles.height = "auto" if told.plain else 0  # a class would be weighed with all its looks


def standing(session: Session, shown: Collection[str] = ()) -> list[Part]:
    """Counts of findings, whether it is saved, whether it is locked, the circuits' loading, the fullest first.

    `shown` are the places that narrowed panes show, where any are.
    """
    assessment = session.assessment
    unseen = sum(place not in shown for place in session.chosen) if session.only and shown else 0
    parts: list[Part] = []
    for severity in SEVERITIES:
        count = assessment.count(severity)
        parts += [(counted(count, severity), severity if count else "dim"), ("  ", "")]
    parts += [("unsaved", "warn") if session.unsaved else ("saved", "dim"), ("  ", "")]
    told = (
        ("read-only", "warn", session.held_by),
        (session.control, "note", session.control),
        ("EDIT LOCK", "here", session.edit_locked),
        (f"only {session.only}", "here", session.only),
        (
            f"comparing with {session.kept_as}" if session.kept_as else "comparing with before",
            "note",
            session.kept is not None,
        ),
        (f"{len(session.chosen)} chosen", "head", session.chosen),
        (f"{unseen} of them not shown", "warn", unseen),
        ("some stay silent", "warn", session.rig.lists and recovery.is_partial(assessment)),
        (_under_way(session.rig), "note", True),
        (_pending(session.rig), "note", True),
        (f"meter check: {len(session.wrong_pairs)} wrong", "stop", session.wrong_pairs),
    )
    for words, style, is_so in told:
        parts += [(words, style), ("  ", "")] if is_so and words else []
    said: set[str] = set()
    fullest = sorted(assessment.circuits.values(), key=lambda c: (c.live, -c.loading))
    parts += [("circuits ", "dim")] if fullest else []
    for circuit in fullest:
        if dead := outage.at(assessment.index, circuit.id):
            if str(dead) not in said:
                parts += [(str(dead), "stop" if circuit.amplifiers else "dim"), ("  ", "")]
            said.add(str(dead))
            continue
        style = "stop" if circuit.loading > 1 else "warn" if circuit.loading > 0.8 else ""
        parts += [(f"{circuit.id} {whole_percent(circuit.loading, *LOADINGS)}", style), ("  ", "")]
    return parts[:-1]


def _under_way(rig: Rig) -> str:
    """How far the lists are, in a few words."""
    lists = under_way(rig)
    if len(lists) > 1:
        return f"{len(lists)} lists"
    return "".join(f"list {each.ticked} of {len(each.steps)}" for each in lists)


def _pending(rig: Rig) -> str:
    """What is to be returned, in a few words."""
    if waiting := recovery.pending(rig):
        return f"{waiting[0] if len(waiting) == 1 else len(waiting)} repaired, return in the interval"
    return "return in the interval" if recovery.to_return(rig) else ""


def under_way(rig: Rig) -> list[NightList]:
    """The lists with steps that are not done."""
    return [each for each in rig.lists if not each.done]


HELP = "question_mark"
ALWAYS = (HELP, "escape")


def keys(commands: list[Command], session: Session, width: int) -> list[Part]:
    """The keys that act here, as many as fit, those that leave and that help always among them; the first of two that do one thing."""
    offered = [c for c in commands if c.acts(session)]
    first: dict[str, Command] = {}
    for command in offered:
        first.setdefault(command.label if command.key == HELP else command.label_in(session), command)
    found = [(command, label) for label, command in first.items() if label]
    found.sort(key=lambda each: each[0].key == HELP)
    room = width + 2 - sum(_size(c, label) for c, label in found if c.key in ALWAYS)
    parts: list[Part] = []
    for command, label in found:
        if command.key not in ALWAYS:
            if (size := _size(command, label)) > room:
                continue
            room -= size
        parts += [("  ", "")] if parts else []
        parts += [(command.key_words, "head"), (f" {label}", "")]
    return parts


def _size(command: Command, label: str) -> int:
    return len(command.key_words) + len(label) + 3
