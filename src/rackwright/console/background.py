"""Work that takes longer than a key may, done beside the screen: it ends as a result or as a sentence.

A thread of its own that the program doesn't wait for when it ends: a computation without an end must not keep a rig
locked that nobody has open any more. Knows nothing of what is worked at.
"""

import contextlib
import threading
from collections.abc import Callable
from typing import Any, TypeVar

from textual.app import App

from rackwright.store import log

T = TypeVar("T")

going_on: set[threading.Thread] = set()
"""The work that has not ended yet."""


class Left(Exception):
    """Nobody waits any more for what is worked at: raised in the midst of it, it ends it, and nothing is told."""


def begin(
    app: App[Any], doing: str, work: Callable[[], T], done: Callable[[T], None], failed: Callable[[str], None]
) -> None:
    """Do `work`; then, on the screen's thread, `done` with what it gave, or `failed` with a sentence that the log explains."""

    def run() -> None:
        try:
            result = work()
            app.call_from_thread(done, result)
        except Left:
            pass
        except BaseException as error:
            told = log.sentence(doing, error)
            with contextlib.suppress(Exception):  # the app has ended meanwhile
                app.call_from_thread(failed, told)
        finally:
            going_on.discard(threading.current_thread())

    thread = threading.Thread(target=run, daemon=True, name=doing)
    going_on.add(thread)
    thread.start()
