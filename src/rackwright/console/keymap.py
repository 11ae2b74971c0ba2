"""Every key of the workplace in one table: the foot, the help, the palette, what a key says where it does not act.

A key is added by its function in `commands`, marked with `command`: nothing else lists it. Knows what acts on which kind
of thing and when, not what it does.
"""

from bisect import insort
from collections.abc import Callable, Iterable
from typing import Any, NamedTuple, TypeVar

from rackwright.console.session import EDIT_LOCK, Session
from rackwright.model.rules.problem import with_article

F = TypeVar("F", bound=Callable[..., None])
ANY: frozenset[str] = frozenset()
GROUPS = ("Build", "Look", "Show", "File", "Move", "Help")
"""In the order of the help, and of the foot."""


class Command(NamedTuple):
    """A command: its key, the action it calls, and its words."""

    key: str
    action: str
    label: str
    """In the foot: a word or two."""
    help: str
    group: str
    kinds: frozenset[str] = ANY
    """What must be selected for it to act; anything where empty."""
    in_show: bool = False
    """Whether it acts under the edit lock."""
    locked: str = ""
    """What is said under the edit lock, where that is more than how to unlock."""
    edits: bool = False
    """Whether it does nothing but edit the rig: nothing, where another session has that."""
    also: str = ""
    """What people call it besides: found by these words in palette and help."""
    many: bool = False
    """Whether it acts on all that is chosen."""
    shown_key: str = ""
    now: Callable[[Session], str] | None = None
    """The label as the rig stands, empty where there is nothing to do; always `label` where None."""
    does: Callable[[Any], None] | None = None
    """What it does, given the editor; an action of the screen's own where None."""

    @property
    def key_words(self) -> str:
        """How the key is written for a person."""
        return self.shown_key or self.key

    def label_in(self, session: Session) -> str:
        """What the foot calls it as the rig stands; nothing where there is nothing for it to do."""
        label = self.now(session) if self.now else self.label
        return f"{label} {len(session.chosen)}" if label and self.many and session.chosen else label

    def acts_on(self, session: Session) -> bool:
        """Whether it acts on what is selected, or on all that is chosen."""
        return not self.kinds or (session.kinds if self.many else {session.kind}) <= self.kinds

    def acts(self, session: Session) -> bool:
        """Whether it does anything here: it acts on what is selected, under the edit lock, and where another has the rig."""
        allowed = self.in_show or not session.edit_locked
        return allowed and not (self.edits and session.held_by) and self.acts_on(session)

    def why_not(self, session: Session) -> str:
        """Why it does not act on what is selected; empty where it does."""
        # where another has the rig, the lock is not this one's to take off
        if session.edit_locked and not self.in_show:
            return session.why_read_only if session.held_by else self.locked or EDIT_LOCK
        if not self.acts_on(session):
            acts_on = ", ".join(sorted(self.kinds - {"rig"}))
            return f"{self.key_words} ({self.label}) acts on: {acts_on}. Here {self._instead(session)}."
        return session.why_read_only if self.edits and session.held_by else ""

    def _instead(self, session: Session) -> str:
        """What is selected or chosen that it does not act on."""
        if self.many and session.chosen:
            wrong = sorted(with_article(_CALLED.get(kind, kind)) for kind in session.kinds - self.kinds)
            too = " too" if session.kinds & self.kinds else ""
            return f"{' and '.join(wrong)} {'is' if len(wrong) == 1 else 'are'} chosen{too}"
        kind = session.kind
        return f"{session.place} is a {_CALLED.get(kind, kind)}" if kind != "rig" else "nothing is selected"


_CALLED = {"pole": "pole pair", "line pair": "pole pair"}

COMMANDS: list[Command] = []
"""Group by group, each in the order in which its functions stand."""


def command(
    group: str, key: str, label: str, help: str, kinds: frozenset[str] = ANY, **more: Any
) -> Callable[[F], F]:
    """Put a function that takes the editor behind a key; `more` are further fields of Command."""

    def register(does: F) -> F:
        made = Command(key, does.__name__, label, help, group, kinds, does=does, **more)
        insort(COMMANDS, made, key=lambda each: GROUPS.index(each.group))
        return does

    return register


def acting(session: Session) -> list[Command]:
    """The commands that act on what is selected; those for a failure first under the edit lock, and on a failure.

    With several things chosen those first that act on all of them.
    """
    found = [c for c in COMMANDS if c.acts(session)]
    first = session.edit_locked or session.failed_here or session.control
    if first or session.chosen:
        return sorted(
            found,
            key=lambda c: (
                (c.group != "Show",) if first else (c.action != "connect", not c.many and c.action != "undo")
            ),
        )
    return found


def on_figures(commands: Iterable[Command]) -> list[Command]:
    """The commands as they are where figures are read: there enter edits nothing, it shows the working."""
    return [c._replace(label="why", in_show=True, edits=False) if c.key == "enter" else c for c in commands]


MOVES = (
    ("up, down", "Move in a pane"),
    ("home, end", "First, last"),
    ("page up", "A page back"),
    ("page down", "A page on"),
    ("ctrl+l", "Redraw the screen"),
)
"""Keys that every pane knows and no command stands behind."""

SIGNS = (
    ("4 Ω +0.5 dB", "A channel's load; full power over the rating"),
    ("967 W 0.2 dB", "Full power at a section, no limiter; cable loss"),
    ("DF 42", "Damping factor of a section"),
    ("███░░░", "How close a figure is to its limit: full is at it"),
    ("P1 60 %", "Loading: programme current as a share of the breaker's rating"),
)
"""What the short figures on the panes are."""
