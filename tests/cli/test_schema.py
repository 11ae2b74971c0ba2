"""`schema`: what each report as JSON holds, held against what the commands print by a validator that is none of ours."""

import json
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import click
import pytest
from jsonschema import Draft202012Validator
from msgspec.structs import replace

import rigs
from rackwright.cli.group import commands
from rackwright.cli.report_types import REPORTS
from rackwright.engine.recovery import fail
from rackwright.model.edits import note_reading
from rackwright.store import night_log, nights
from rackwright.store.night_log import Event
from rackwright.store.presets import shipped_folder
from rackwright.store.rig_file import save
from rackwright.units import Length
from shipped import preset

from .conftest import Run

HEARD = ("--heard", "TOP-R1.high=silent", "--heard", "TOP-L1=plays")
SHIPPED = [
    file.stem for file in sorted(shipped_folder().glob("*.toml"), key=lambda file: file.stat().st_size)
]
PRINTED = {
    "check": [("check", name) for name in ("failed.toml", *SHIPPED)],
    "diagnose": [
        ("diagnose", "small-room", *HEARD, "--found", "lights A2.4=protect"),
        ("diagnose", "failed.toml", *HEARD),
        ("diagnose", "small-room", "--heard", "SUB-L1=plays"),
    ],
    "recover": [("recover", "small-club", "--failed", "A1"), ("recover", "trial.toml", "--failed", "mid")],
    "rehearse": [("rehearse", "trial.toml", "--quick")],
    "night": [("night", "failed.toml"), ("night", "trial.toml")],
    "meter": [("meter", "failed.toml"), ("meter", "small-club"), ("meter", "trial.toml")],
    "venue": [("venue", "list")],
}
"""What is run for each schema; together it holds everything that there may be."""


@pytest.fixture
def files(own_home: Path) -> None:
    """A rig with a failure, readings of a line that was changed since and a night log; a trial rig; a night that is over."""
    room = fail(preset("small-room"), ["A1.2"])
    for number, ohms in ((1, "5.7 ohm"), (2, "open")):
        room = note_reading(room, "C2", number, ohms=ohms, when="2026-05-01 14:30", heard="yes")
    longer = rigs.changed(room, "C2", length=Length.parse("90 m"))
    save(note_reading(longer, "C1", 1, ohms="open"), "failed.toml")
    night_log.append(
        night_log.path_of("failed.toml"), [Event(time="2026-05-01T21:40:05", event="failed", place="A1.2")]
    )
    trial = rigs.rig(
        rigs.amplifier("A1", "mid", "high"),
        rigs.socket("S1", "A1.1", "A1.2"),
        rigs.line("L1", "S1", "TOP"),
        rigs.cabinet("TOP", "top", "straight"),
    )
    other = replace(rigs.feed("other", "80 Hz", "2.5 kHz"), substitute_for=("mid",))
    save(replace(trial, feeds=(*trial.feeds, other)), "trial.toml")
    nights.close(room, None, "Door 2 m wide.", datetime(2027, 5, 1, 23))


def objects(told: Any, path: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    """Every object in a report, after the keys that lead to it."""
    for each in told if isinstance(told, list) else (told,):
        if isinstance(each, dict):
            yield path, each
            for key, value in each.items():
                yield from objects(value, f"{path}.{key}")


def described(schema: dict[str, Any], parts: dict[str, Any], path: str = "") -> Iterator[str]:
    """The keys that lead to each object that a schema describes."""
    if name := schema.get("$ref"):
        schema = parts[name.rpartition("/")[2]]
        yield path
    for key, each in schema.get("properties", {}).items():
        yield from described(each, parts, f"{path}.{key}")
    for each in (*schema.get("anyOf", ()), schema.get("items")):
        yield from described(each, parts, path) if each else ()


@pytest.mark.usefixtures("files")
@pytest.mark.parametrize("name", PRINTED)
def test_what_is_printed_is_as_its_schema_says_and_nothing_else_would_be(run: Run, name: str) -> None:
    schema = json.loads(run("schema", name).out)
    validator = Draft202012Validator(schema)
    validator.check_schema(schema)
    met = {}
    for words in PRINTED[name]:
        told = json.loads(run(*words, "--json").out)
        assert [(error.json_path, error.message) for error in validator.iter_errors(told)] == [], words
        met = {path: (told, part) for path, part in objects(told)} | met
    assert set(met) == set(described(schema, schema["$defs"])), (
        "an object that none of these hold, or is of no type"
    )
    for path, (told, part) in met.items():
        part["unknown"] = 1
        assert not validator.is_valid(told), path
        del part["unknown"]
        key, value = part.popitem()
        assert not validator.is_valid(told), (path, key)
        part[key] = value


def test_every_report_as_json_has_a_schema_and_units_are_said(run: Run) -> None:
    context = click.Context(commands)
    found = {name: commands.get_command(context, name) for name in commands.list_commands(context)}
    found |= {
        f"{group} {name}": each
        for group, of in found.items()
        if isinstance(of, click.Group)
        for name, each in of.commands.items()
    }
    asked = {
        name
        for name, each in found.items()
        if each and any("--json" in option.opts for option in each.params)
    }
    assert asked == {
        " ".join(word for word in report.command.split()[1:-1] if word != "RIG")
        for report in REPORTS.values()
    }
    channel = json.loads(run("schema", "check").out)["$defs"]["Channel"]["properties"]
    assert channel["load_nominal_ohm"]["description"] == "Load, nominal, Ω"
    assert all(name in run("schema").out for name in REPORTS)
    assert 'Did you mean "check"?' in run("schema", "chek").err
