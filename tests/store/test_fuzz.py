"""However broken a file is, it gives a rig or a message, never another exception."""

import contextlib
import copy
import datetime
import tomllib
from typing import Any

import pytest
import tomli_w
from hypothesis import assume, given
from hypothesis import strategies as st

from damage import PIECES, places
from rackwright.model import rules
from rackwright.model.equipment import Equipment
from rackwright.model.rig import Rig
from rackwright.store.rig_file import RigFileError, load, loads
from store.sample import RIG, WHOLE


def opened(text: str, library: Equipment | None) -> Rig | RigFileError:
    """What loading gives; any other exception is a failure."""
    try:
        return loads(text, "rig.toml", library)
    except RigFileError as error:
        return error


def survives(text: str, library: Equipment | None = None) -> None:
    """A rig that keeps every rule, or a message that a person can act on."""
    found = opened(text, library)
    if isinstance(found, Rig):
        assert rules.check(found) == ()
        return
    assert found.problems
    assert str(found).startswith("rig.toml")
    for problem in found.problems:
        assert problem.wrong
        assert problem.advice.endswith((".", "?")), problem


@given(st.text() | st.lists(st.sampled_from(PIECES)).map("".join))
def test_any_text(text: str) -> None:
    survives(text)


@given(st.binary())
def test_any_bytes(tmp_path_factory: pytest.TempPathFactory, content: bytes) -> None:
    path = tmp_path_factory.getbasetemp() / "bytes.toml"
    path.write_bytes(content)
    with contextlib.suppress(RigFileError):
        load(path)


@given(st.data())
def test_a_good_file_with_characters_deleted_changed_and_inserted(data: st.DataObject) -> None:
    text = WHOLE
    for _ in range(data.draw(st.integers(1, 3))):
        at = data.draw(st.integers(0, len(text)))
        cut = data.draw(st.sampled_from([0, 0, 1, 1, 2, 10, 200]))
        text = text[:at] + data.draw(st.sampled_from(["", *PIECES])) + text[at + cut :]
    survives(text)


def junk() -> st.SearchStrategy[Any]:
    """Any value that TOML can hold, nested."""
    single = st.one_of(
        st.booleans(),
        st.integers(),
        st.sampled_from([0, -1, 2**62, 2**63, -(2**64), 10**400]),
        st.floats(),
        st.text(max_size=8),
        st.sampled_from(["", "A1.1", "P1", "20 m", "4 ohm", "9" * 200, "1e400 m", "#99999999999", "bridged"]),
        st.just(datetime.date(2026, 1, 1)),
        st.just(datetime.datetime(2026, 1, 1, tzinfo=datetime.UTC)),
        st.just(datetime.time(1, 2)),
    )
    keys = st.text(max_size=4) | st.sampled_from(["id", "feed", "poles", "load", "from", "length", "split"])
    return st.recursive(
        single, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(keys, inner, max_size=3)
    )


GOOD = tomllib.loads(WHOLE)
PLACES = places(GOOD)


@given(st.data())
def test_a_good_file_with_values_swapped_for_others_and_for_junk(data: st.DataObject) -> None:
    spoilt = copy.deepcopy(GOOD)
    for _ in range(data.draw(st.integers(1, 3))):
        path = data.draw(st.sampled_from(PLACES))
        holder: Any = spoilt
        try:
            for step in path[:-1]:
                holder = holder[step]
            holder[path[-1]]
        except (KeyError, IndexError, TypeError):
            assume(False)  # an earlier swap took this place away
        assume(isinstance(holder, dict | list))
        other = data.draw(st.sampled_from(PLACES))
        value: Any = GOOD
        for step in other:
            value = value[step]
        match data.draw(st.sampled_from(["swap", "junk", "delete", "add"])):
            case "swap":
                holder[path[-1]] = copy.deepcopy(value)
            case "junk":
                holder[path[-1]] = data.draw(junk())
            case "delete":
                del holder[path[-1]]
            case _ if isinstance(holder, dict):
                holder[data.draw(st.text(max_size=6))] = data.draw(junk())
            case _:
                holder.append(data.draw(junk()))
    survives(tomli_w.dumps(spoilt), Equipment())


@pytest.mark.parametrize(
    "text",
    [
        "a = " + "[" * 100_000,
        "a = " + "{ a = " * 100_000,
        "a = " + "9" * 10_000,
        "a = 0x" + "f" * 100_000,
        "[" + ".".join("a" * 100_000) + "]",
        ".".join("a" * 100_000) + " = 1",
        'a = [1,\n{ b = 1, "c" . ' + " . ".join("a" * 100_000) + " = 1 }]",
        RIG.replace('name = "', 'name = "' + "x" * 1_000_000, 1),
        "name = 'x'\nlines = [" + "1," * 30_000 + "]",
        "name = 'x'\n" + "".join(f"key{i} = 1\n" for i in range(20_000)),
        'name = "x"\n[targets]\ndamping_factor = ' + "9" * 4000,
        'name = "x"\n[supply]\nvoltage = 0x' + "f" * 9000,
        'name = "x"\n' + "x" * 1_000_000 + " = 1",
        RIG.replace('"16 A"', '"#' + "9" * 90 + '"'),
        RIG.replace('"2.5 mm2"', '"#' + "9" * 5000 + '"'),
        "\x00",
        "name = '\x00'",
        "[equipment]\nwirings = 1",
        "equipment = 1\nname = 'x'",
        "name = 'x'\nequipment.loudspeakers = [ { id = 'a', connector = 'b', sections = [], wirings = {} } ]",
    ],
    ids=lambda text: text[:24],
)
def test_files_made_to_break_a_reader(text: str) -> None:
    survives(text)
