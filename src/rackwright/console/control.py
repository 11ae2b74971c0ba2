"""Who has control of a rig that several consoles have open: what this one asks for, offers, answers, and what it is given.

A console in control is never made to write no longer by anything but itself or its end: it gives control, or its process
ends, and the lock of the rig goes to the next. Knows no Textual; looks at the others when it is told to.
"""

import signal
import time
from datetime import datetime
from pathlib import Path
from typing import Any, Protocol

from rackwright.console.session import ENDED, Session
from rackwright.store.safe import file_lock
from rackwright.store.safe.consoles import Console, Presence
from rackwright.store.safe.journal import JournalError
from rackwright.store.toml.read import RigFileError

SILENCE = 30.0
"""Seconds without a sign from the console in control after which it can be replaced."""
PATIENCE = 5.0
"""Seconds in which it may give up control by itself before its process is ended; and again before that is ended at once."""


class Shared(Protocol):
    """A rig that several consoles may have open: the document of this one."""

    session: Session

    @property
    def in_control(self) -> bool:
        """Whether this console edits it."""

    def give_control(self) -> None:
        """Leave it to the next. Raises OSError: then it stays here."""

    def take_control(self) -> bool:
        """Have it; whether that could be. Raises OSError, JournalError, RigFileError."""


class Control:
    """What this console knows of the others on its rig."""

    def __init__(self, document: Shared) -> None:
        self.document = document
        self.others: tuple[Console, ...] = ()
        self.asking: Console | None = None
        """Who asks this console, which is in control, for it."""
        self._presence: Presence | None = None
        self._requests = 0
        self._seen: tuple[str, int] = ("", 0)
        """The last sign of the console in control."""
        self._since = 0.0
        """When it came, or the request began."""
        self._insisted = 0.0
        self._waited = ""
        self._sent: list[signal.Signals] = []
        """To end the process that has control."""
        self._keys = 0
        """How many keys this console had when it was asked, or gave a sign last."""

    # --- what there is to know ---

    @property
    def holder(self) -> Console | None:
        """The other console that has control; None where nobody has it, or this one."""
        path = self.document.session.path
        owner = file_lock.owner(path) if path is not None and not self.document.in_control else None
        if owner is None:
            return None
        unseen = Console("", owner, datetime.now().astimezone())
        return next((each for each in self.others if each.owner == owner), unseen)

    @property
    def nobody(self) -> bool:
        """Whether no console has control."""
        return self.document.session.follows and self.document.session.held_by == ENDED

    @property
    def asked(self) -> bool:
        """Whether this console has asked for control, and waits."""
        return self._presence is not None and self._presence.says.asks > 0

    @property
    def offers(self) -> bool:
        """Whether this console, in control, gives it to whoever asks."""
        return self._presence is not None and self._presence.says.offers

    @property
    def silent(self) -> float:
        """Seconds since the last sign of the console in control, while this one waits for it."""
        return time.monotonic() - self._since

    @property
    def waits(self) -> str:
        """What waits for the key C, in a sentence; empty for nothing."""
        if self.asking is not None:
            return f"{self.asking} asks for control. Press C to answer."
        if not self.asked and (holder := self.holder) is not None and holder.offers:
            return f"{holder} offers control. Press C to take it."
        asks = self.asked and self._presence is not None and not self._presence.says.insists
        if asks and not self.nobody and self.silent >= SILENCE:
            return f"No answer from {self.holder or 'the console in control'}. Press C to take control."
        return ""

    # --- what is done ---

    def ask(self) -> None:
        """Ask for control; where it is offered, it comes."""
        if (path := self.document.session.path) is not None:
            self._present(path)  # a request may come before the first look
        self._requests += 1
        if (holder := self.holder) is not None:
            self._seen = holder.name, holder.signs
        self._since, self._insisted, self._sent = time.monotonic(), 0.0, []
        self._say(asks=self._requests, insists=False)

    def withdraw(self) -> None:
        """Ask no longer."""
        self._say(asks=0, insists=False)

    def insist(self) -> str:
        """Have control without an answer, for none came; what to say."""
        self._insisted = time.monotonic()
        self._say(insists=True)
        return "Taking control."

    def offer(self, offers: bool) -> None:
        """Give control to whoever asks, or no longer."""
        self._say(offers=offers)

    def refuse(self) -> None:
        """Keep control for now."""
        if self.asking is not None and self._presence is not None:
            refused = {**dict(self._presence.says.refuses), self.asking.name: self.asking.asks}
            self._say(refuses=tuple(refused.items()))
            self.asking = None

    def give(self) -> str:
        """Give control to whoever asks; what to say."""
        to = self.asking
        if to is None:
            return "Nobody asks for control any more."
        try:
            self.document.give_control()
        except OSError as error:
            return f"Control stays here: the crash journal can't be written ({error.strerror or error})."
        self._say(gives=(to.name, to.asks), offers=False)
        self.asking = None
        self.document.session.control = f"control: {to}"
        return f"{to} has control now. This console follows."

    def take(self) -> str:
        """Take control that nobody has; what to say."""
        try:
            if not self.document.take_control():
                return "Another console was faster: it has control."
        except (OSError, JournalError, RigFileError) as error:
            return f"Control can't be taken: {error}"
        self._say(asks=0, insists=False, offers=False, gives=None)
        return "This console has control now."

    def close(self) -> None:
        """Be gone."""
        if self._presence is not None:
            self._presence.close()
        self._presence, self.others, self.asking = None, (), None
        self.document.session.control = ""

    # --- looking ---

    def look(self, keys: int = 0, busy: bool = False) -> str:
        """Look at what the others ask, answer and give, and do what follows; what to say of it, empty for nothing.

        `keys` is how many this console had, `busy` whether something stands on its screen that should first be finished.
        Raises OSError.
        """
        session = self.document.session
        if session.path is None or not (self.document.in_control or session.follows):
            self.close()
            return ""
        if self._presence is None or self._presence.key != file_lock.key(session.path):
            self.close()
        self.others = self._present(session.path).others()
        self._say(initials=session.initials or "")
        said = self._look_in_control(keys, busy) if self.document.in_control else self._look_following()
        session.control = self._words()
        before, self._waited = self._waited, self.waits
        return said or (self._waited if self._waited != before else "")

    def _look_in_control(self, keys: int, busy: bool) -> str:
        assert self._presence is not None
        refused = dict(self._presence.says.refuses)
        asking = next(
            (each for each in self.others if each.asks and refused.get(each.name) != each.asks), None
        )
        before, self.asking = self.asking, asking
        if asking is None:
            return ""
        if before is None or (before.name, before.asks) != (asking.name, asking.asks):
            self._keys = keys
        silent = keys == self._keys
        if not silent:
            self._keys = keys
            self._say(signs=self._presence.says.signs + 1)
        if (self.offers and not busy) or (asking.insists and silent):
            return self.give()
        return ""

    def _look_following(self) -> str:
        assert self._presence is not None
        says = self._presence.says
        if self.nobody:
            given = any(each.gives == (says.name, says.asks) for each in self.others if says.asks)
            return self.take() if given or (says.asks and says.insists) else ""
        if says.gives is not None:
            self._say(gives=None)
        holder = self.holder
        if holder is None or not says.asks:
            return ""
        if (says.name, says.asks) in holder.refuses:
            self.withdraw()
            return f"{holder} keeps control."
        if self._seen != (holder.name, holder.signs):
            self._seen, self._since = (holder.name, holder.signs), time.monotonic()
            if says.insists:
                self._say(insists=False)
                return f"{holder} is at work again. Wait for the answer."
        elif says.insists:
            self._end(holder)
        return ""

    def _end(self, holder: Console) -> None:
        """End the process that has control and neither answers nor gives it up: it hangs. The lock goes with it."""
        for number, wait in ((signal.SIGTERM, PATIENCE), (signal.SIGKILL, 2 * PATIENCE)):
            if number not in self._sent and time.monotonic() - self._insisted >= wait:
                self._sent.append(number)
                holder.owner.end(number)
                return

    def _present(self, path: Path) -> Presence:
        """This console's own file, made where there is none yet."""
        if self._presence is None:
            self._presence = Presence(path)
        return self._presence

    def _say(self, **changes: Any) -> None:
        if self._presence is not None:
            self._presence.say(**changes)

    def _words(self) -> str:
        if self.document.in_control:
            if self.asking is not None:
                return f"{self.asking} asks for control"
            return "control: you" if self.others else ""
        if self.nobody:
            return "control: nobody"
        holder = self.holder
        name = str(holder) if holder is not None else "another"
        return f"{name} offers control" if holder is not None and holder.offers else f"control: {name}"
