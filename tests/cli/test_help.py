"""The pages to read: made from the program's tables, or held against them."""

import re
import tomllib
from collections.abc import Iterator
from typing import Any

import click
import pytest

from rackwright.cli.group import SUMMARIES, commands
from rackwright.cli.help import PAPERS, WORDS, tables
from rackwright.console.commands import COMMANDS
from rackwright.engine.findings.meanings import MEANINGS
from rackwright.model.rig import Rig
from rackwright.model.venue_facts import VenueFacts
from rackwright.papers.contents import MAKERS
from rackwright.store.presets import shipped_folder


def keys(data: dict[str, Any], table: str = "") -> Iterator[tuple[str, str]]:
    """Each key of a rig file that holds a value, with its table."""
    for key, value in data.items():
        parts = value if isinstance(value, list) else [value]
        if parts and all(isinstance(part, dict) for part in parts):
            for part in parts:
                yield from keys(part, f"{table}.{key}".lstrip("."))
        else:
            yield table, key


def test_every_key_of_the_shipped_files_is_listed_under_its_table() -> None:
    listed = {(table, key) for of in (Rig, VenueFacts) for table, rows in tables(of) for key, *_ in rows}
    free = ("wirings", "faults", "heard")  # ids of the rig itself are keys there
    for file in shipped_folder().rglob("*.toml"):
        used = set(keys(tomllib.loads(file.read_text())))
        assert {(t, k) for t, k in used if not t.endswith(free)} <= listed, file.name


def test_a_key_is_listed_with_example_limits_and_default() -> None:
    found = {(table, key): (label, *rest) for table, rows in tables(Rig) for key, label, *rest in rows}
    assert found["supply", "voltage"] == ("Supply voltage, L–N", "230 V", "0.01 V to 1000 V", "230 V")
    assert found["lines", "length"][-1] == "needed"
    assert found["supply", "curve"][1] == "B, C, D"


def test_every_sheet_is_said() -> None:
    assert tuple(PAPERS) == tuple(MAKERS)


def test_pages_name_commands_keys_and_codes_that_there_are() -> None:
    pressed = {each.key_words for each in COMMANDS}
    for topic, paragraphs in WORDS.items():
        for name in re.findall("`(.+?)`", " ".join(paragraphs)):
            command, _, rest = name.removeprefix("rackwright ").partition(" ")
            assert command in (SUMMARIES if name.startswith("rackwright") else pressed), (topic, name)
            assert command != "explain" or rest in MEANINGS, (topic, name)


def test_a_preset_is_opened_however_near_its_name_is_to_a_command() -> None:
    with commands.make_context("rackwright", ["hall"]) as context:
        assert commands.resolve_command(context, ["hall"])[0] == "open"
        with pytest.raises(click.UsageError, match='Did you mean "help"'):
            commands.resolve_command(context, ["helb"])
