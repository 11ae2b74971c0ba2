"""What the engine's functions of numbers say of themselves: a source for each formula, and an example that runs."""

import doctest
import importlib
import inspect
import pkgutil
import re
from collections.abc import Iterator
from types import FunctionType, ModuleType
from typing import get_args, get_type_hints

import pytest

from rackwright import engine
from rackwright.engine.amplifier import Point
from rackwright.engine.finding import Limit
from rackwright.engine.frequency_response import At
from rackwright.engine.loudspeaker import Array
from rackwright.units import ConductorSize

MARK = re.compile(
    r"^ *\.\. \[1\] |common practice, no source|from memory|by definition|by the data sheet", re.I | re.M
)
"""How a docstring says where a formula is from: a published source by its number, or one of these words."""
NUMBERS = {float, int, bool, str, type(None), ConductorSize, Point}


def modules() -> list[ModuleType]:
    found = pkgutil.walk_packages(engine.__path__, f"{engine.__name__}.")
    return [importlib.import_module(each.name) for each in found]


def functions(module: ModuleType) -> Iterator[FunctionType]:
    for name, each in vars(module).items():
        each = inspect.unwrap(each) if callable(each) else each
        if isinstance(each, FunctionType) and each.__module__ == module.__name__ and not name.startswith("_"):
            yield each


def of_numbers(hint: object) -> bool:
    """Whether a type is a number, a word, or made of these."""
    parts = [part for part in get_args(hint) if part is not Ellipsis]
    return all(isinstance(part, str) or of_numbers(part) for part in parts) if parts else hint in NUMBERS


ELECTRICAL = (
    "amplifier", "channel", "conductor", "decay", "frequency_response", "hot_coils", "kick", "levels", "limits", "loudspeaker",
    "meter_check.sweep", "network", "protection", "touch",
    "mains.breaker", "mains.cable_capacity", "mains.circuit", "mains.currents", "mains.fault_current", "mains.flow", "mains.inrush",
)  # fmt: skip
"""Where the formulas are, and the limits that figures are held against."""
FIGURES = (float, float | None, Array, At, Limit, Limit | None, tuple[Limit, ...])
WHOLE = {"trace", "pictured", "levels_by_feed", "ripples", "band_top_losses"}
"""What computes several figures at once."""


@pytest.mark.parametrize("name", ELECTRICAL)
def test_a_function_that_gives_a_figure_says_where_its_formula_is_from_and_one_of_numbers_has_an_example(
    name: str,
) -> None:
    lacking = []
    for function in functions(importlib.import_module(f"rackwright.engine.{name}")):
        hints = get_type_hints(function)
        given, told = hints.pop("return"), function.__doc__ or ""
        numbers = bool(hints) and all(map(of_numbers, hints.values()))
        figure = given in FIGURES or function.__name__ in WHOLE or (numbers and given is not str)
        if figure and not MARK.search(told):
            lacking.append(f"{function.__name__}: source")
        if numbers and given not in (Limit, Limit | None) and ">>>" not in told:
            lacking.append(f"{function.__name__}: example")
        if ("[1]_" in told) != (".. [1]" in told):
            lacking.append(f"{function.__name__}: a number without its source, or the reverse")
    assert lacking == []


def test_every_example_gives_what_it_says() -> None:
    tried = 0
    for module in modules():
        failed, count = doctest.testmod(module)
        assert failed == 0, module.__name__
        tried += count
    assert tried > 20
