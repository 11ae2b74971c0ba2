"""A whole rig from nothing, by keys alone: feeds, circuits, a rack, amplifiers, sockets, cabinets, lines, files."""

import tomllib
from pathlib import Path
from typing import get_args

import pytest
from msgspec.structs import replace

from rackwright.console.widgets.dialog import Picker
from rackwright.console.widgets.form import Form
from rackwright.engine.assess import assess
from rackwright.model import edits
from rackwright.model.equipment import Assumable
from rackwright.store import rig_file

from . import harvest_shed
from .hand import Hand, opened

MOST_KEYS = 400
"""For the whole of it: the aim, tried as a new user would."""


async def test_harvest_shed_is_built_in_400_keys_saved_kept_as_a_preset_and_opened_again(
    own_home: Path,
) -> None:
    async with opened(size=(80, 24)) as hand:
        pressed = [list(harvest_shed.keys(step)) for _, step in harvest_shed.STEPS]
        assert sum(map(len, pressed)) <= MOST_KEYS
        for keys in pressed:
            await hand.burst(*keys)
        rig = hand.rig
        assert [(f.id, f.band[0].value, f.band[1].value) for f in rig.feeds] == [
            ("sub", 35, 90), ("mid", 90, 1600), ("high", 1600, 18000), ("mon", 80, 20000),
        ]  # fmt: skip
        for circuit in rig.circuits:
            assert (circuit.breaker.text, circuit.curve) == ("16 A", "C")
            assert circuit.supply_cable is not None
            assert (circuit.supply_cable.length.text, circuit.supply_cable.size.text) == ("25 m", "2.5 mm2")
        assert [circuit.id for circuit in rig.circuits] == ["P1", "P2"]
        (rack,) = rig.racks
        assert rack.height == 10
        assert [[c.feed for c in a.channels] for a in rack.amplifiers] == [
            ["sub", "sub"], ["sub", "sub"], ["mid", "mid"], ["high", "high"], ["mon", "mon"],
        ]  # fmt: skip
        own = next(model for model in rig.equipment.amplifiers if model.id == rack.amplifiers[4].model)
        assert [(r.load.value, r.power.value) for r in own.ratings] == [(8, 900), (4, 1500)]
        assert (own.channels, own.height, own.damping_factor.value, own.terminals) == (2, 2, 400, "exposed")
        assert [s.connector for s in rack.sockets] == ["4-pole"] * 5
        assert [(n.source, n.to, n.length.value, n.cable) for n in rig.lines] == [
            ("R1-1", "SUB-L", 12, "flex-4x2.5"), ("R1-2", "SUB-R", 18, "flex-4x2.5"),
            ("R1-3", "TOP-L", 20, "flex-4x2.5"), ("R1-4", "TOP-R", 20, "flex-4x2.5"),
            ("R1-5", "MON-1", 10, "flex-4x2.5"), ("MON-1", "MON-2", 5, "flex-4x2.5"),
        ]  # fmt: skip

        found = assess(rig)
        assert {name: section.channel for name, section in found.sections.items()} == {
            "SUB-L.upper": "A1.1", "SUB-L.lower": "A1.2", "SUB-R.upper": "A2.1", "SUB-R.lower": "A2.2",
            "TOP-L.mid": "A3.1", "TOP-L.high": "A4.1", "TOP-R.mid": "A3.2", "TOP-R.high": "A4.2",
            "MON-1.full": "A5.1", "MON-2.full": "A5.1",
        }  # fmt: skip
        told = {finding.code for finding in found.findings if finding.severity != "note"}
        # of what the job sheet of the amplifier of one's own lacks only its gain can do harm
        assert told == {"touch-voltage", "gain-assumed"}
        assert {*own.assumed} == {*get_args(Assumable)}
        assert all(feed.limiter_rms and feed.limiter_peak for feed in rig.feeds)

        assert rig_file.load("Harvest Shed.toml") == rig
        assert "unsaved" not in hand.foot
        kept = tomllib.loads((own_home / "presets" / "harvest-shed.toml").read_text("utf-8"))
        assert kept["name"] == "Harvest Shed"
        assert kept["notes"].strip() == harvest_shed.NOTES

        await hand.press("o")
        await go_to_row(hand, "preset harvest-shed")
        await hand.press("enter")
        assert (hand.rig.name, hand.rig.notes.strip()) == ("Harvest Shed", harvest_shed.NOTES)
        assert (hand.rig.racks, hand.rig.lines) == (rig.racks, rig.lines)
        assert hand.session.path is None


async def built(hand: Hand, upto: str) -> None:
    """Build Harvest Shed up to that step, with all its keys."""
    for name, step in harvest_shed.STEPS:
        await hand.burst(*harvest_shed.keys(step))
        if name == upto:
            return
    raise AssertionError(f"no step {upto}")


def lines(hand: Hand) -> list[tuple[str, str, str]]:
    return [(line.source, line.to, line.length.text) for line in hand.rig.lines]


async def test_lines_from_chosen_sockets_go_to_what_takes_them_and_what_is_too_many_is_said() -> None:
    async with opened(size=(80, 24)) as hand:
        await built(hand, "six cabinets")
        hand.session.apply("subs last", lambda rig: edits.remove_all(rig, ["MON-1", "MON-2"]))
        subs = hand.rig.cabinets[:2]
        hand.session.apply("", lambda rig: replace(rig, cabinets=(*rig.cabinets[2:], *subs)))
        for socket in ("R1-1", "R1-3", "R1-5", "R1-2/2", "R1-4"):
            await hand.find(socket)
            await hand.press("space")
        assert "c connect 5" in hand.foot
        await hand.press("c")
        assert "R1-1 to SUB-L, R1-3 to TOP-L, R1-2 to SUB-R, R1-4 to TOP-R." in hand.words
        assert "R1-5 stays free: 4 cabinets without a line." in hand.words
        await hand.press("up", "up", "right", "down", "down")
        assert "R1-1 to TOP-L, R1-3 to TOP-R" in hand.words, "or in order"
        await hand.press("up", "up", "left", "down", "down")
        await hand.write("12, 20, 18, 20")
        await hand.press("enter")
        assert lines(hand) == [
            ("R1-1", "SUB-L", "12 m"), ("R1-3", "TOP-L", "20 m"), ("R1-2", "SUB-R", "18 m"), ("R1-4", "TOP-R", "20 m"),
        ]  # fmt: skip
        assert (hand.session.place, len(hand.session.chosen)) == ("C1", 5), (
            "on what is new; what was chosen stays so"
        )
        assert "5 chosen" in hand.foot
        assert "esc let go" in hand.foot
        await hand.press("c")
        assert "R1-1, R1-3, R1-2" in hand.words
        assert "have their lines" in hand.words
        await hand.press("escape")
        assert hand.session.chosen == ()
        assert "let go" not in hand.foot


async def test_from_a_cabinet_a_line_from_each_free_socket_is_laid_and_undone_at_once() -> None:
    async with opened(size=(80, 24)) as hand:
        await built(hand, "six cabinets")
        assert hand.session.place.startswith("MON")
        await hand.press("c")
        assert "tab a line from each free socket" in hand.words
        await hand.press("tab")
        assert "R1-1 to SUB-L, R1-2 to SUB-R, R1-3 to TOP-L, R1-4 to TOP-R, R1-5 to MON-1." in hand.words
        assert lines(hand) == []
        await hand.press("enter")
        assert len(lines(hand)) == 5
        await hand.press("u")
        assert lines(hand) == []
        await hand.find("MON-2")
        await hand.press("c")
        await hand.write("r1-1")
        await hand.press("tab", "enter")
        assert lines(hand) == [("R1-1", "SUB-L", "20 m")], "of those that are shown"
        await hand.find("MON-2")
        await hand.press("c")
        await hand.write("mon-1")
        await hand.press("tab")
        assert "No socket that is shown is free." in hand.words


async def test_chosen_sockets_and_cabinets_are_joined_in_order() -> None:
    async with opened(size=(80, 24)) as hand:
        await built(hand, "six cabinets")
        for place in ("R1-2", "SUB-L", "SUB-R"):
            await hand.find(place)
            await hand.press("space")
        await hand.press("c")
        assert "1 socket and 2 cabinets are chosen" in hand.words
        await hand.find("R1-1")
        await hand.press("space", "c", "enter")
        assert lines(hand) == [("R1-2", "SUB-L", "20 m"), ("R1-1", "SUB-R", "20 m")]


async def test_the_likeliest_end_of_a_line_stands_first_and_its_length_is_like_the_last_of_such() -> None:
    async with opened(size=(80, 24)) as hand:
        await built(hand, "six cabinets")
        await hand.find("TOP-L")
        await hand.press("c")
        assert [option.value for option in hand.screen.shown][:3] == ["R1-3", "R1-4", "R1-1"], (
            "what plays its bands"
        )
        await hand.press("escape")
        await hand.find("R1-5")
        await hand.press("c")
        assert [option.value for option in hand.screen.shown][:2] == ["MON-1", "MON-2"]
        await hand.press("enter")
        assert "20 m" in hand.text
        await hand.write("11")
        await hand.press("enter")
        await hand.find("MON-2")
        await hand.press("c")
        assert hand.screen.shown[0].value == "MON-1", "one of its model, that is fed"
        await hand.press("enter")
        assert isinstance(hand.screen, Form)
        assert hand.screen.text_of("length") == "2 m"
        await hand.field("source")
        await hand.choose("R1-1")
        assert hand.screen.text_of("length") == "11 m", "the last from a socket"
        await hand.choose("MON-1")
        await hand.field("length")
        await hand.write("5")
        await hand.press("enter")
        assert lines(hand)[-1] == ("MON-1", "MON-2", "5 m")
        for place in ("TOP-L", "TOP-R", "SUB-L"):
            await hand.find(place)
            await hand.press("space")
        await hand.press("c")
        assert isinstance(hand.screen, Form)
        assert hand.screen.text_of("lengths") == "11 m"
        await hand.field("laid")
        await hand.press("right")
        assert hand.screen.text_of("lengths") == "11 m, 5 m, 5 m", "the first from a socket, then links"


@pytest.mark.parametrize(
    ("first", "ids"),
    [("", ["SUB1", "SUB2", "TOP1", "MON1", "SUB3"]), ("SUB-L1", ["SUB-L1", "SUB-L2", "TOP-L1", "MON-1", "SUB-L3"]),
     ("bass_01", ["bass_01", "bass_02", "TOP_01", "MON_01", "bass_03"])],
)  # fmt: skip
async def test_a_new_cabinets_id_says_what_it_is_in_the_rigs_own_pattern(first: str, ids: list[str]) -> None:
    async with opened(size=(80, 24)) as hand:
        await hand.burst("n")
        for number, model in enumerate(
            ("sub-double-18", "", "top-passive", "wedge-passive", "sub-double-18")
        ):
            await hand.add("cabinet")
            if model:
                await hand.field("model")
                await hand.choose(model)
            if first and not number:
                await hand.field("id")
                await hand.write(first)
            await hand.press("enter")
        assert [cabinet.id for cabinet in hand.rig.cabinets] == ids


async def test_a_new_cabinet_of_another_model_stands_where_its_id_says_not_where_the_last_one_does() -> None:
    async with opened(size=(80, 24)) as hand:
        await hand.press("n")
        await hand.add("cabinet")
        form = hand.screen
        assert isinstance(form, Form)
        await hand.choose("top-passive")
        await hand.fill(None, "TOP-L")
        assert form.text_of("side") == "left"
        for field, typed in (("side", "right"), ("depth", "back"), ("access", "flown")):
            await hand.field(field)
            await hand.choose(typed)
        await hand.field("position")
        await hand.write("over the right wing")
        await hand.press("enter")
        await hand.add("cabinet")
        form = hand.screen
        assert isinstance(form, Form)
        fields = ("id", "side", "position", "depth", "access")
        before = [form.text_of(field) for field in fields]
        assert before[1:] == ["right", "over the right wing", "back", "flown"]
        await hand.choose("mon")
        assert [form.text_of(field) for field in (*fields, "role")] == [
            "MON-1",
            "",
            "",
            "",
            "ground",
            "monitor",
        ]
        await hand.field("id")
        await hand.write("MON-L")
        assert form.text_of("side") == "left"
        await hand.field("model")
        await hand.choose("top-passive")
        assert [form.text_of(field) for field in fields[2:]] == before[2:]


async def test_a_loudspeaker_model_is_found_by_what_it_is_for() -> None:
    async with opened(size=(80, 24)) as hand:
        await hand.press("n")
        await hand.add("cabinet")
        form = hand.screen
        assert isinstance(form, Form)
        for typed, named in (("monitor", "wedge"), ("mon", "wedge"), ("audience", "top")):
            await hand.burst(*typed)
            shown = hand.screen
            assert isinstance(shown, Picker)
            assert any(named in option.value for option in shown.shown)
            assert ("sub-double-18" in [option.value for option in shown.shown]) is (typed == "audience")
            await hand.press("escape")


async def go_to_row(hand: Hand, place: str) -> None:
    """On the start, go down to a row."""
    from rackwright.console.widgets.pane import Pane

    pane = hand.screen.query_one(Pane)
    await hand.press("home")
    for _ in pane.rows:
        if pane.place == place:
            return
        await hand.press("down")
    raise AssertionError(f"no row {place}:\n{hand.text}")


async def test_an_empty_rig_says_what_to_do_first() -> None:
    async with opened(size=(140, 45)) as hand:
        await hand.press("n")
        assert "No rack yet. Press a to add one." in hand.text
        await hand.press("a")
        assert hand.text.index("rack  ") < hand.text.index("amplifier  ")
        await hand.press("escape")
        await hand.add("amplifier")
        assert "Add a rack first." in hand.text
        assert hand.rig.racks == ()


async def test_the_next_thing_takes_the_next_unit_and_the_next_id_in_the_crews_own_pattern() -> None:
    async with opened(preset="small-room") as hand:
        await hand.edit("R1", "height", "12")
        for _ in range(2):
            await hand.add("amplifier")
            await hand.press("enter")
        assert [(a.id, a.unit) for a in hand.rig.racks[0].amplifiers[2:]] == [("A3", 2), ("A4", 4)]
        await hand.find("SUB-L1")
        await hand.add("cabinet")
        await hand.press("enter")
        await hand.add("cabinet")
        await hand.press("enter")
        assert [c.id for c in hand.rig.cabinets[-2:]] == ["SUB-L2", "SUB-L3"]
        assert hand.session.place == "SUB-L3"


async def test_what_only_the_results_show_is_added_with_no_pane_put_before_the_one_in_front() -> None:
    async with opened(size=(80, 24)) as hand:
        await hand.burst("n")
        for kind in ("feed", "feed", "circuit", "feed"):
            await hand.add(kind)
            await hand.press("enter")
            assert hand.pane("racks").has_focus
        assert len(hand.rig.feeds) == 3
        await hand.find("feed1")
        assert hand.pane("results").has_focus, "where it is asked for it is shown"
        await hand.find("feed2")
        assert hand.pane("results").has_focus, "and the next, too"


async def test_a_new_thing_begins_with_what_can_be_added_and_an_amplifier_with_terminals_nobody_can_touch() -> (
    None
):
    async with opened(preset="small-room") as hand:
        await hand.find(hand.rig.lines[0].id)
        await hand.burst("a", "enter")
        assert "New cabinet" in hand.words, "every cabinet has its line"
        await hand.press("enter")
        await hand.find(hand.rig.lines[0].id)
        await hand.burst("a", "enter")
        assert "New line" in hand.words
    async with opened() as hand:
        await hand.press("n")
        await hand.add("rack")
        await hand.press("enter")
        await hand.add("amplifier")
        await hand.press("enter")
        (made,) = hand.rig.amplifiers()
        models = hand.workplace.editor.options.known.amplifiers
        assert next(model for model in models if model.id == made.model).terminals == "shrouded"
