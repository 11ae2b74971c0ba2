"""Ids of every kind with every sign that the rules allow in them: nothing takes one apart, from the file to the screens."""

import asyncio
import itertools
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.strategies import DrawFn
from msgspec.structs import replace

import rigs
from console.hand import opened
from engine_recovery.small import rigs_to_break
from rackwright.cli.check import check_page
from rackwright.cli.meter import sheet_page
from rackwright.cli.recover import recovery_page, recovery_report
from rackwright.cli.rehearse import rehearsal_page, rehearsal_report
from rackwright.cli.report import json_text
from rackwright.engine.assess import assess
from rackwright.engine.meter_check import checked
from rackwright.engine.recovery import go_back, recover, repair, stages, take
from rackwright.engine.workings.places import explain, known_places, places
from rackwright.model import edits
from rackwright.model.equipment import Equipment, LoudspeakerModel
from rackwright.model.index import Index
from rackwright.model.rig import Rig
from rackwright.model.rules import check
from rackwright.papers.contents import files, sheets
from rackwright.papers.document import Header
from rackwright.papers.readings import sheet_text
from rackwright.store.rig_file import dumps, load, loads, save

BEFORE = ("", "/", "_", "1/", "/-")
AFTER = ("/", "/1", "[b]", "/2", "-", "_", "-/_", "/A1-1/1")
IN_EQUIPMENT = (".", " /.", ". 5 m", "/2", ".1 -_")
"""An entry of the equipment may hold dots and blanks besides."""

Choose = Callable[[Sequence[str]], str]


@st.composite
def oddly_named(draw: DrawFn) -> Rig:
    """A small rig with odd ids."""
    return renamed(draw(rigs_to_break()), lambda names: draw(st.sampled_from(names)))


def renamed(rig: Rig, choose: Choose) -> Rig:
    """The rig with each thing of it renamed, and each entry of its equipment, section and wiring."""
    rig = _with_odd_equipment(rig, choose)
    things = (
        *rig.boards, *rig.circuits, *rig.loads, *rig.feeds, *rig.racks, *rig.amplifiers(), *rig.sockets(), *rig.lines, *rig.cabinets,
    )  # fmt: skip
    for thing in things:
        rig = edits.change(rig, thing.id, id=f"{choose(BEFORE)}{thing.id}{choose(AFTER)}")
    assert check(rig) == ()
    return rig


def _with_odd_equipment(rig: Rig, choose: Choose) -> Rig:
    names = {entry.id: f"{entry.id}{choose(IN_EQUIPMENT)}x" for entry in rig.equipment.entries()}

    def named(thing: Any, *fields: str) -> Any:
        return replace(thing, **{field: names.get(getattr(thing, field), "") for field in fields})

    equipment = Equipment(
        amplifiers=tuple(named(entry, "id") for entry in rig.equipment.amplifiers),
        loudspeakers=tuple(
            _sections_renamed(named(entry, "id", "connector")) for entry in rig.equipment.loudspeakers
        ),
        cables=tuple(named(entry, "id") for entry in rig.equipment.cables),
        connectors=tuple(named(entry, "id") for entry in rig.equipment.connectors),
    )
    racks = tuple(
        replace(
            rack,
            amplifiers=tuple(named(amplifier, "model") for amplifier in rack.amplifiers),
            sockets=tuple(named(socket, "connector") for socket in rack.sockets),
        )
        for rack in rig.racks
    )
    return replace(
        rig,
        equipment=equipment,
        racks=racks,
        lines=tuple(named(line, "cable") for line in rig.lines),
        cabinets=tuple(
            replace(named(cabinet, "model"), wiring=cabinet.wiring and f"{cabinet.wiring}.1 /")
            for cabinet in rig.cabinets
        ),
        spares=tuple(named(spare, "cable", "amplifier") for spare in rig.spares),
    )


def _sections_renamed(model: LoudspeakerModel) -> LoudspeakerModel:
    """Each section called `…/1-`, each wiring `….1 /`."""
    return replace(
        model,
        sections=tuple(replace(section, id=f"{section.id}/1-") for section in model.sections),
        wirings={
            f"{name}.1 /": tuple(tuple(f"{section}/1-" for section in pair) for pair in pairs)
            for name, pairs in model.wirings.items()
        },
    )


@given(st.data())
def test_files_reports_workings_papers_and_meter_sheets_are_made(data: st.DataObject) -> None:
    rig = data.draw(oddly_named())
    assert loads(dumps(rig)) == rig
    assessment = assess(rig)
    check_page(rig, assessment)
    for name in known_places(assessment):
        for place in places(assessment, name):
            for shown in place.shown:
                if shown.value is not None:
                    assert explain(assessment, name, shown.figure.name)
    made = files(
        sheets(assessment, ()), Header(rig="odd", date="2026-05-01", revision="1"), ("txt", "csv", "html")
    )
    assert all(made.values())
    found = checked(Index(rig))
    sheet_page(rig, found)
    assert all(f"{item.test.line}" in sheet_text(found) for item in found)


@given(st.data())
def test_what_fails_is_recovered_from_and_returned(data: st.DataObject) -> None:
    rig = data.draw(oddly_named())
    found = recover(rig, _failing(data, rig))
    json_text(recovery_report(rig, found))
    for number, plan in enumerate(found.plans, start=1):
        recovery_page(rig, found, number)
        broken = found.broken.index.rig
        taken = loads(dumps(take(broken, plan.failed, plan.moves, plan.title, "2026-05-01 21:40")))
        back = go_back(repair(taken, taken.lists[0].failed)) if taken.lists else taken
        assert replace(back, night=()) == rig


@settings(max_examples=4)
@given(st.data())
def test_every_failure_is_rehearsed(data: st.DataObject) -> None:
    rig = data.draw(oddly_named())
    found = [*stages(rig, proof=False)][-1]
    rehearsal_page(rig, found, True)
    json_text(rehearsal_report(rig, found))


def _failing(data: st.DataObject, rig: Rig) -> list[str]:
    driving = sorted({pole.removeprefix("-") for socket in rig.sockets() for pole in socket.poles if pole})
    things = [thing.id for thing in (*rig.amplifiers(), *rig.racks, *rig.circuits)]
    return [data.draw(st.sampled_from([*driving * 2, *things]))]


WALK = (
    "enter", "escape", "p", "enter", "r", "c", "escape", "escape", "g", "escape", "w", "1", "d", "u",
    "m", "escape", "space", "e", "escape", "escape", "f", "escape", "f", "escape",
)  # fmt: skip
"""What a hand may try on whatever is selected."""
ONCE = ("a", "enter", "escape", "v", "escape", "i", "escape", "x", "escape")
"""What it may try whatever is selected."""


def test_the_console_is_walked_through() -> None:
    chosen = itertools.count()
    rig = renamed(rigs.SOUND, lambda names: names[next(chosen) % len(names)])

    async def walk(path: Path) -> None:
        async with opened(path) as hand:
            await hand.burst(*ONCE)
            index = hand.session.assessment.index
            tables = (
                index.channels, index.pole_pairs, index.sections, index.racks, index.amplifiers, index.sockets, index.lines,
                index.cabinets, index.circuits, index.feeds,
            )  # fmt: skip
            for name in [next(iter(table)) for table in tables if table]:
                hand.workplace.go_to(name)
                await hand.settle()
                assert hand.session.place == name
                assert name in hand.title or index.place(name).kind == "pole"
                await hand.burst(*WALK)
                assert hand.app.is_running
                assert hand.app._exception is None
                hand.session.place = ""
                await hand.burst(*["escape"] * 3)
                await hand.burst(*["u"] * hand.session.history.here)

    with tempfile.TemporaryDirectory() as folder, pytest.MonkeyPatch.context() as patch:
        patch.setenv("RACKWRIGHT_HOME", folder)
        patch.chdir(folder)
        path = Path(folder) / "odd.toml"
        save(rig, path)
        assert load(path) == rig
        asyncio.run(walk(path))
