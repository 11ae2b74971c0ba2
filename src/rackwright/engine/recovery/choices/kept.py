"""Answers that are kept as long as the object that gives them."""

import functools
import weakref
from collections.abc import Callable
from typing import Any, TypeVar

C = TypeVar("C", bound=Callable[..., Any])


def kept(method: C) -> C:
    """A bound method that works each answer out once.

    Its object doesn't hold itself by it: thousands of objects that wait for a collector cost a rehearsal a twentieth of its time.
    """
    bound: Any = method
    return functools.cache(functools.partial(bound.__func__, weakref.proxy(bound.__self__)))  # type: ignore[return-value]
