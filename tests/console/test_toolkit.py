"""What of the toolkit the console reaches beside its public interface: no more than `terminal` lists with its reasons."""

import ast
import functools
import importlib
import inspect
import pkgutil
import re
import sys
from collections.abc import Iterator
from types import ModuleType

import textual

import rackwright.console
from rackwright.console import terminal
from rackwright.console.app import Console

DRIVER = Console().get_driver_class()
PUBLIC = {"_asdict", "_replace", "_exit"}
"""Of named tuples, and of `os`: public in spite of their names."""
LISTED = re.compile(r"`((?:\w+\.)?_\w+|textual[\w.]+)`")


def private(name: str) -> bool:
    return name.startswith("_") and not name.startswith("__")


def modules() -> Iterator[ModuleType]:
    for found in pkgutil.walk_packages(rackwright.console.__path__, "rackwright.console."):
        yield importlib.import_module(found.name)


@functools.cache
def tree_of(module: ModuleType) -> ast.Module:
    """A module as it is written."""
    return ast.parse(inspect.getsource(module))


@functools.cache
def names_of(thing: type) -> frozenset[str]:
    """The private names of a class: those that it defines, and those that it takes hold of on itself."""
    (whole,) = (
        node
        for node in ast.walk(tree_of(sys.modules[thing.__module__]))
        if isinstance(node, ast.ClassDef) and node.name == thing.__name__
    )
    nodes = list(ast.walk(whole))
    found = {node.attr for node in nodes if isinstance(node, ast.Attribute) and on_self(node)}
    found |= {node.name for node in nodes if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)}
    return frozenset(filter(private, found))


def on_self(node: ast.Attribute) -> bool:
    match node.value:
        case ast.Name(id="self" | "cls") | ast.Call(func=ast.Name(id="super")):
            return True
    return False


def of_toolkit(thing: type) -> bool:
    return thing.__module__.partition(".")[0] == textual.__name__


def in_use() -> Iterator[str]:
    ours, elsewhere = set(), set()
    for module in modules():
        for node in ast.walk(tree_of(module)):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("textual"):
                yield from (f"{node.module}" for part in node.module.split(".") if private(part))
                yield from (f"{node.module}.{name.name}" for name in node.names if private(name.name))
            elif isinstance(node, ast.Attribute) and private(node.attr):
                (ours if on_self(node) else elsewhere).add(node.attr)
            elif isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.Name):
                ours.add(node.name if not isinstance(node, ast.Name) else node.id)
        for _, thing in inspect.getmembers(module, inspect.isclass):
            if thing.__module__ == module.__name__:
                mixed = DRIVER if thing in DRIVER.__mro__ else thing
                for base in filter(of_toolkit, mixed.__mro__):
                    yield from (f"{base.__name__}.{name}" for name in names_of(thing) & names_of(base))
    yield from elsewhere - ours - PUBLIC


def test_no_private_name_of_the_toolkit_is_used_but_those_listed() -> None:
    found = {re.sub(r"^(MessagePump|DOMNode|Widget)\.", "Screen.", name) for name in in_use()}
    assert found == set(LISTED.findall(terminal.__doc__ or ""))
