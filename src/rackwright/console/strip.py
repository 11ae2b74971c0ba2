"""What stands at the foot: what is said, how the rig stands, and the keys that act here."""

from rich.text import Text
from textual.widget import Widget
from textual.widgets import Static

from rackwright.console.glyphs import Glyphs, plain
from rackwright.console.keys import Command
from rackwright.console.session import Session
from rackwright.console.views.row import STYLES
from rackwright.engine.results import SEVERITIES


class Foot(Widget):
    """One line of styled words, repainted only when they change."""

    def __init__(self, glyphs: Glyphs, id: str) -> None:
        super().__init__(id=id)
        self.glyphs = glyphs
        self.text = Text()

    def say(self, text: Text) -> None:
        """Show this line."""
        if self.glyphs.ascii:
            parts = (
                [(plain(text.plain[s.start : s.end]), s.style) for s in text.spans]
                if text.spans
                else [(plain(text.plain), "")]
            )
            text = Text.assemble(*parts) if text.spans else Text(plain(text.plain))
        if (text.plain, text.spans) != (self.text.plain, self.text.spans):
            self.text = text
            self.refresh()

    def render(self) -> Text:
        """The line."""
        return self.text


class Said(Static):
    """A sentence or two above the foot, over what stands there; gone where there is nothing to say."""

    def __init__(self, glyphs: Glyphs) -> None:
        super().__init__(id="said")
        self.glyphs = glyphs
        self.told = Text()

    def say(self, text: str, style: str = "") -> None:
        """Say this; saying nothing again costs nothing."""
        told = Text(plain(text) if self.glyphs.ascii else text, style)
        if (told.plain, told.style) != (self.told.plain, self.told.style):
            self.told = told
            self.update(told)
            self.display = bool(text)


def standing(session: Session) -> Text:
    """Counts of findings, the circuits' loading, whether it is saved, whether it is locked."""
    assessment = session.assessment
    parts: list[tuple[str, str]] = []
    for severity in SEVERITIES:
        count = assessment.count(severity)
        parts += [(f"{count} {severity}", STYLES[severity] if count else STYLES["dim"]), ("  ", "")]
    circuits = sorted(assessment.circuits.values(), key=lambda c: -c.loading)
    for circuit in circuits[:6]:
        style = STYLES["stop"] if circuit.loading > 1 else STYLES["warn"] if circuit.loading > 0.8 else ""
        parts += [(f"{circuit.id} {circuit.loading:.0%}", style), ("  ", "")]
    if session.held_by:
        parts += [("read-only", STYLES["warn"]), ("  ", "")]
    if session.show_locked:
        parts += [("SHOW LOCK", "reverse"), ("  ", "")]
    if session.kept is not None:
        parts += [("comparing", STYLES["note"]), ("  ", "")]
    if session.marked:
        parts += [(f"{len(session.marked)} chosen", "bold"), ("  ", "")]
    parts.append(("unsaved", STYLES["warn"]) if session.unsaved else ("saved", STYLES["dim"]))
    return Text.assemble(*parts, no_wrap=True, overflow="ellipsis")


def keys(commands: list[Command], session: Session, width: int) -> Text:
    """The keys that act here, as many as fit, `?` always among them."""
    parts: list[tuple[str, str]] = []
    used = 0
    helps = [c for c in commands if c.action == "help"]
    others = [c for c in commands if c.label and c.action != "help"]
    room = width - sum(len(c.key_words) + len(c.label) + 3 for c in helps)
    for command in others:
        label = _label(command, session)
        if not label:
            continue
        size = len(command.key_words) + len(label) + 3
        if used + size > room:
            break
        used += size
        parts += [(command.key_words, "bold"), (f" {label}", ""), ("  ", "")]
    for command in helps:
        parts += [(command.key_words, "bold"), (f" {command.label}", "")]
    return Text.assemble(*parts, no_wrap=True, overflow="ellipsis")


def _label(command: Command, session: Session) -> str:
    """A command's words; undo and redo say what they would do, and nothing where there is nothing."""
    if command.action == "undo":
        return f"undo {session.undoes}" if session.undoes else ""
    if command.action == "redo":
        return f"redo {session.redoes}" if session.redoes else ""
    if command.action == "edit_chosen" and not session.marked:
        return ""
    if command.action == "save" and not session.unsaved:
        return ""
    return command.label
