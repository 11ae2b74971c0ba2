"""What the tests have done once that the program does each time, with the same outcome: half of their time went into it.

Only what a process repeats for console after console: texts that are read again, and what the toolkit looks up anew for each
message. Changes nothing that a test could see.
"""

import contextlib
import functools
import marshal
import tomllib
from collections.abc import Iterator
from typing import Any

from textual import message_pump
from textual.css.model import RuleSet
from textual.css.stylesheet import Stylesheet
from textual.message import Message
from textual.message_pump import MessagePump

_NOTHING = contextlib.nullcontext()


def read_toml_once() -> None:
    """Keep what the last texts said, to be had as a copy: presets are opened hundreds of times."""
    read, plain = functools.lru_cache(64)(_packed), tomllib.loads

    def loads(text: str, /, **options: Any) -> dict[str, Any]:
        packed = None if options or not isinstance(text, str) else read(plain, text)
        return plain(text, **options) if packed is None else marshal.loads(packed)

    tomllib.loads = loads


def _packed(read: Any, text: str) -> bytes | None:
    """None for what holds a date."""
    told = read(text)
    try:
        return marshal.dumps(told)
    except ValueError:
        return None


def quicken_the_toolkit() -> None:
    """Read each style sheet once, find the handlers of each kind of message once, and note nothing in a log that nobody reads."""
    Stylesheet._parse_rules = _rules  # type: ignore[method-assign]
    RuleSet.__hash__ = object.__hash__  # type: ignore[method-assign]  # by identity, as the toolkit has it, but in C
    MessagePump._get_dispatch_methods = _handlers  # type: ignore[method-assign]
    MessagePump.prevent = _prevent  # type: ignore[method-assign]
    message_pump.log = _Unheard()  # type: ignore[assignment]


def _rules(
    sheet: Stylesheet,
    css: str,
    read_from: Any,
    is_default_rules: bool = False,
    tie_breaker: int = 0,
    scope: str = "",
) -> list[RuleSet]:
    """Reading the sheets is most of an app's start: apps that give them the same variables share what was read."""
    return _read(tuple(sheet._variables.items()), css, read_from, is_default_rules, tie_breaker, scope)


_parse_rules, _get_dispatch_methods, _prevented = (
    Stylesheet._parse_rules,
    MessagePump._get_dispatch_methods,
    MessagePump.prevent,
)


@functools.cache
def _read(variables: tuple[tuple[str, str], ...], *source: Any) -> list[RuleSet]:
    return _parse_rules(Stylesheet(variables=dict(variables)), *source)


def _handlers(pump: MessagePump, name: str, message: Message) -> Iterator[tuple[type, Any]]:
    """The handlers of a message, by the names of methods; those that are chosen by a selector the toolkit looks for itself."""
    found = _named(type(pump), name, type(message))
    if found is None:
        yield from _get_dispatch_methods(pump, name, message)
        return
    for of, method in found:
        if message._no_default_action:
            return
        yield of, method.__get__(pump, of)


@functools.cache
def _named(kind: type, name: str, message: type) -> tuple[tuple[type, Any], ...] | None:
    chosen = (of.__dict__.get("_decorated_handlers") or () for of in kind.__mro__)
    if any(each in handlers for handlers in chosen for each in message.__mro__):
        return None
    methods = ((of, of.__dict__.get(f"_{name}") or of.__dict__.get(name)) for of in kind.__mro__)
    return tuple((of, m) for of, m in methods if m is not None and not hasattr(m, "_textual_on"))


def _prevent(pump: MessagePump, *kinds: type[Message]) -> Any:
    return _prevented(pump, *kinds) if kinds else _NOTHING


class _Unheard:
    """A log of the toolkit's that nobody reads."""

    def __getattr__(self, _name: str) -> "_Unheard":
        return self

    def __call__(self, *_told: object, **_more: object) -> "_Unheard":
        return self
