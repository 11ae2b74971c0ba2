"""The README: it promises nothing at its head, its commands name shipped presets, and it lists every key of
equipment and of the keyboard."""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Literal, get_args, get_origin

import msgspec

from rackwright.cli.status import STATUSES
from rackwright.console import app  # noqa: F401  all commands are registered with it
from rackwright.console.keymap import COMMANDS
from rackwright.model.assumed import assumable
from rackwright.model.equipment import EQUIPMENT_KINDS, AmplifierModel, Driver, Section
from rackwright.model.fields import fields
from rackwright.store import presets
from rackwright.store.spreadsheet.sheet import TARGETS

TEXT = (Path(__file__).parents[1] / "README.md").read_text("utf-8")
PROMISE = re.compile(
    r"\b(keeps (every|all)|always|never|guarantee\w*|ensures?|all night|in a second|safe(ly)?|no live)\b"
)


def test_what_it_says_at_its_head_is_no_promise() -> None:
    head, _, rest = TEXT.partition("```sh")
    assert PROMISE.search(head) is None
    assert "warns" in head
    assert "licensed electrician" in rest.partition("## ")[0]


def test_its_exit_statuses_are_those_of_the_program() -> None:
    rows = re.findall(r"^\| (\d+) \| (.*) \|$", TEXT, re.M)
    assert {int(status): told for status, told in rows} == STATUSES


def test_every_preset_of_its_commands_is_shipped() -> None:
    named = set(
        re.findall(r"rackwright (?:check|recover|rehearse|presets copy|why) ([a-z-]+)(?= |$)", TEXT, re.M)
    )
    named -= {"my-rig"}
    assert {"hall", "small-room"} <= named
    assert [name for name in sorted(named) if presets.find(name) is None] == []


IN_A_FILE = {
    "ratings": '[ { load = "8 ohm", power = "1100 W" } ]',
    "bridged": '[ { load = "8 ohm", power = "3600 W" } ]',
    "damping_factor": '{ value = 400, load = "8 ohm" }',
    "sections": "their own tables",
    "wirings": '{ split = [["upper"], ["lower"]] }',
    "shrouded": "true",
    "mains": '["100 V", "240 V"]',
    "assumed": '["gain", "weight"]',
}
"""How what is no quantity, number or text is written."""


def reference() -> Iterator[str]:
    """The keys of equipment entries as the README lists them, made of the table that forms and messages are made of."""
    yield from ("| table | key | what it is | such as | if left out |", "| --- | --- | --- | --- | --- |")
    tables = {**EQUIPMENT_KINDS, "loudspeakers.sections": Section, "… driver": Driver}
    for table in sorted(tables):
        for field in fields(tables[table]):
            choices = get_args(field.kind) if get_origin(field.kind) is Literal else (field.example,)
            quoted = " or ".join(f'"{choice}"' for choice in choices if choice)
            number = field.example if field.kind in (int, float) else ""
            example = IN_A_FILE.get(field.key) or number or quoted
            needed = f"needed; not known: {field.assumed}" if field.assumed else "needed"
            empty = needed if field.required else field.empty
            yield f"| {table} | `{field.key}` | {field.label} | {example} | {empty} |"


def test_it_lists_every_key_of_equipment() -> None:
    assert "\n".join(reference()) in TEXT, "put this there:\n" + "\n".join(reference())
    for kind in (*EQUIPMENT_KINDS.values(), Section, Driver):
        keys = {field.encode_name for field in msgspec.structs.fields(kind)}
        assert keys - {"driver"} == {field.key for field in fields(kind)}


def heads() -> Iterator[str]:
    """The columns that the reader of spreadsheets knows, as the README lists them."""
    yield from ("| of | column | or | needed |", "| --- | --- | --- | --- |")
    assumed = {field.key: f"blank: {field.assumed}" for field in assumable(AmplifierModel)}
    for kind, wanted in TARGETS.items():
        for target in wanted:
            needed = "yes" if target.required and (kind != "lines" or target.key == "id") else ""
            needed = assumed.get(target.key, needed) if kind == "amplifiers" else needed
            yield f"| {kind} | {target.names[0]} | {', '.join(target.names[1:])} | {needed} |"


def test_it_lists_every_column_of_a_spreadsheet() -> None:
    assert "\n".join(heads()) in TEXT, "put this there:\n" + "\n".join(heads())


def keyboard() -> Iterator[str]:
    """The keys of the workplace as the README lists them."""
    yield from ("| key | what it does | acts on |", "| --- | --- | --- |")
    for command in COMMANDS:
        acts_on = ", ".join(sorted(command.kinds - {"rig"}))
        yield f"| `{command.key_words}` | {command.help} | {acts_on} |"


def test_it_lists_every_key_of_the_keyboard() -> None:
    assert "\n".join(keyboard()) in TEXT, "put this there:\n" + "\n".join(keyboard())
