"""Keys one after the other: each is handed on only when the one before it has done all it does.

The toolkit hands a key to whatever has the focus that moment. Over a slow link many keys come at once, and letters
meant for a dialog that the first of them opens would act on the screen under it, where `L` locks the show. Knows
nothing of what keys mean.
"""

import asyncio
import time
from collections import deque
from itertools import filterfalse
from typing import Any

from textual.app import App
from textual.dom import DOMNode
from textual.events import Event, Key, Paste

from rackwright.console.terminal.handlers import KnowsHandlers

_TURNS = 100
"""Of the loop of events in which what is at work may come to rest, before each is waited for a moment."""
_PATIENCE = 1.0
"""Seconds to wait for one that does not come to rest, as it is just closing."""
_MOMENT = 0.005
"""Seconds from one look to the next at a screen that says by `takes_keys` that it has something to work out first."""
_LEAVE = ("escape", "ctrl+q", "ctrl+c")
GRACE = 1.0
"""Seconds after which escape passes the keys typed before it to such a screen."""


class KeyQueue(KnowsHandlers, App[Any]):
    """An app that takes keys in their order."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._typed: deque[Key | Paste] = deque()
        self._handing_on: asyncio.Task[None] | None = None
        self.at_a_key = False
        """Whether keys are being dealt with: what they set off is seen when they are done, not piece by piece."""

    async def on_event(self, event: Event) -> None:
        """Keep a key until its turn; anything else goes its way."""
        if not isinstance(event, Key | Paste) or event.is_forwarded:
            await super().on_event(event)
            return
        self._typed.append(event)
        if self._handing_on is None or self._handing_on.done():
            self._handing_on = asyncio.create_task(self._hand_on())

    async def _hand_on(self) -> None:
        while self._typed and self.is_running:
            self.at_a_key = True
            try:
                await super().on_event(self._typed.popleft())
                await self._settled()
            except Exception as error:
                self.trouble("a key", error)
        self.at_a_key = False
        if self.is_running:
            self.call_next(self.screen._on_timer_update)  # a frame at once: all that belongs to it has come

    async def _settled(self) -> None:
        """Wait until all that the key set off is done, and a screen that it brought up takes keys."""
        before: Any = None
        while self.is_running and (now := (self.screen, self.focused, self.screen.is_mounted)) != before:
            before = now
            await self._at_rest()
            self.at_a_key = False
            since = time.monotonic()
            while self.is_running and not getattr(self.screen, "takes_keys", True):
                if self._escapes(time.monotonic() - since > GRACE):
                    return
                await asyncio.sleep(_MOMENT)

    async def _at_rest(self) -> None:
        """Wait until everything on the screen is, and the app: each may set off something in another."""
        until, turns = time.monotonic() + _PATIENCE, 0
        while self.is_running and (
            busy := [*filterfalse(_rests, (self, *self.screen.walk_children(with_self=True)))]
        ):
            while busy := [*filterfalse(_rests, busy)]:
                if time.monotonic() > until:
                    return
                await asyncio.sleep(0 if turns < _TURNS else _MOMENT)
                turns += 1

    def _escapes(self, at_once: bool) -> bool:
        """Whether escape is the next key, or, with `at_once`, is made it: a screen that waits can always be left."""
        escape = next((i for i, e in enumerate(self._typed) if isinstance(e, Key) and e.key in _LEAVE), None)
        if escape is None or (escape and not at_once):
            return False
        for _ in range(escape):
            self._typed.popleft()
        return True

    def trouble(self, doing: str, error: Exception) -> None:
        """Something raised what it should not have."""
        raise NotImplementedError


def _rests(node: DOMNode) -> bool:
    """Whether `node` waits for a message."""
    queue: Any = node._message_queue
    return queue.empty() and bool(queue.ready_event._waiters)
