"""What the engine's functions say of themselves: a source for each formula, and an example that runs."""

import doctest
import importlib
import inspect
import pkgutil
import re
from collections.abc import Iterator
from types import FunctionType, ModuleType

import pytest

from rackwright import engine

MARK = re.compile(
    r"^ *\.\. \[1\] |common practice, no source|from memory|by definition|by the data sheet", re.I | re.M
)
"""How a docstring says where a formula is from: a published source by its number, or one of these words."""


def modules() -> list[ModuleType]:
    found = pkgutil.walk_packages(engine.__path__, f"{engine.__name__}.")
    return [importlib.import_module(each.name) for each in found]


def functions(module: ModuleType) -> Iterator[FunctionType]:
    for name, each in vars(module).items():
        each = inspect.unwrap(each) if callable(each) else each
        if isinstance(each, FunctionType) and each.__module__ == module.__name__ and not name.startswith("_"):
            yield each


FORMULAE = (
    "amplifier", "channel", "circuit_room", "conductor", "decay", "frequency_response", "hot_coils", "kick", "levels", "limiters",
    "limits", "loudspeaker", "network", "protection", "touch", "meter_check.meter", "meter_check.sweep_judging",
    "mains.breaker", "mains.cable_capacity", "mains.cables", "mains.circuit", "mains.currents", "mains.fault_current",
    "mains.flow", "mains.inrush", "mains.room", "mains.supply", "mains.tree",
)  # fmt: skip
"""Where the formulas are, and the limits that figures are held against; elsewhere what they give is judged and worded."""
NO_FORMULA = {
    "channel": {"output_of", "unsolved", "outage_of", "band_of"},
    "circuit_room": {"may_hang", "takes"},
    "kick": {"pictures"},
    "levels": {"level_rows", "span"},
    "network": {"runs_from", "way_to", "sections_of"},
    "touch": {"gathered"},
    "meter_check.meter": {
        "pair_tests",
        "near_pairs",
        "cabinets_on",
        "runs_behind",
        "without_link",
    },
    "mains.cable_capacity": {"tables"},
    "mains.cables": {"laying_of", "of_rig", "barred"},
    "mains.circuit": {"of_circuit"},
    "mains.currents": {"on_one_phase"},
    "mains.room": {"roomiest", "relief"},
    "mains.supply": {"fed_alike", "mains_of"},
    "mains.tree": {"all_same", "grown", "meeting", "lines_of"},
}
"""What follows the wiring there, chooses, or puts together what the others give."""


@pytest.mark.parametrize("name", FORMULAE)
def test_a_function_with_a_formula_says_where_it_is_from_and_has_an_example(name: str) -> None:
    found = {
        each.__name__: each.__doc__ or ""
        for each in functions(importlib.import_module(f"rackwright.engine.{name}"))
    }
    without = NO_FORMULA.get(name, set())
    assert without <= set(found)
    held = {function: said for function, said in found.items() if function not in without}
    assert [function for function, said in held.items() if not MARK.search(said)] == []
    assert [function for function, said in held.items() if ">>>" not in said] == []
    assert [function for function, said in found.items() if ("[1]_" in said) != (".. [1]" in said)] == []


def test_every_example_gives_what_it_says() -> None:
    """Those of the package's own docstring first: what they make, the others use."""
    made: dict[str, object] = {"__name__": "examples"}
    (ours,) = doctest.DocTestFinder(recurse=False).find(engine, globs=made)
    assert doctest.DocTestRunner().run(ours, clear_globs=False).failed == 0
    tried = 0
    for module in modules():
        failed, count = doctest.testmod(module, extraglobs=ours.globs)
        assert failed == 0, module.__name__
        tried += count
    assert tried > 100
