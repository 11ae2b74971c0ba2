"""Which methods handle a message, looked up once for each class: the toolkit goes through all bases for every message."""

import functools
from collections.abc import Callable, Iterable
from typing import Any

from textual.message import Message
from textual.message_pump import MessagePump


class KnowsHandlers(MessagePump):
    """Whatever takes messages, but for how it finds what handles them; to be mixed in before a class of the toolkit."""

    def _get_dispatch_methods(
        self, method_name: str, message: Message
    ) -> Iterable[tuple[type, Callable[[Message], Any]]]:
        """The handlers, from the class itself to its furthest base, until one forbids those of the bases."""
        found = _handlers(type(self), method_name)
        if found is None:
            yield from super()._get_dispatch_methods(method_name, message)
            return
        for cls, method in found:
            if message._no_default_action:
                return
            yield cls, method.__get__(self, cls)


@functools.lru_cache(None)
def _handlers(cls: type, name: str) -> list[tuple[type, Any]] | None:
    """Handlers told by their name; None where some are told by a decorator, which may hang on the message's sender."""
    if any(vars(base).get("_decorated_handlers") for base in cls.__mro__):
        return None
    named = [(base, vars(base).get(f"_{name}") or vars(base).get(name)) for base in cls.__mro__]
    return [(base, method) for base, method in named if method is not None]
