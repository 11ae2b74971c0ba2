"""The cables that the company owns, as the user lists them: `[[stock]]` in `stock.toml` in the user's folder.

A rig that lists its own stock goes by that instead.
"""

import os
from collections.abc import Sequence
from pathlib import Path

from msgspec import Struct

from rackwright.model.equipment import Equipment
from rackwright.model.lines import Stock
from rackwright.model.rules import check_stock
from rackwright.store.home import home
from rackwright.store.library import library
from rackwright.store.library_edits import write_own
from rackwright.store.toml.decode import decode
from rackwright.store.toml.encode import as_toml, plain
from rackwright.store.toml.read import parse, read_text, refusal_of


class _StockFile(Struct, frozen=True, kw_only=True):
    stock: tuple[Stock, ...] = ()


def stock_file() -> Path:
    """Where the user lists what the company owns."""
    return home() / "stock.toml"


def own_stock(carried: Equipment = Equipment()) -> tuple[Stock, ...]:  # noqa: B008  (a frozen value)
    """What the user's list says, nothing where there is none; `carried` are entries known besides the library's.

    Raises RigFileError where the list can't be used.
    """
    path = stock_file()
    if not os.path.exists(path):
        return ()
    text = read_text(path)
    data = parse(text, str(path))
    read, problems = decode(data, _StockFile)
    if read is not None:
        cables = {entry.id for entry in (*carried.cables, *library().cables)}
        told = {problem.path for problem in problems}
        problems += tuple(p for p in check_stock(read.stock, sorted(cables)) if p.path not in told)
    if problems or read is None:
        raise refusal_of(str(path), problems, text, data)
    return read.stock


def stock_with(held: Sequence[Stock], more: Sequence[Stock]) -> tuple[Stock, ...]:
    """What is held, with `more` in place of what is of the same cable and length."""
    new = {(each.cable, each.length.value): each for each in more}
    kept = tuple(new.pop((each.cable, each.length.value), each) for each in held)
    return (*kept, *new.values())


def add_to_own_stock(more: Sequence[Stock]) -> Path | None:
    """Write `more` into the user's list. Returns where its text was kept, if it had comments. Raises SaveError, RigFileError."""
    return write_own(stock_file(), as_toml(plain(_StockFile(stock=stock_with(own_stock(), more)))))
