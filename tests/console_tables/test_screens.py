"""The tables by keys alone, at 80 by 24: feeds, settings, equipment of the rig, the user's library."""

import re
import tomllib
from pathlib import Path

import pytest

from console.hand import resized, settled
from rackwright.console.screens.equipment import Library, RigEquipment
from rackwright.console.screens.equipment_form import EquipmentForm, PartsTable
from rackwright.console.screens.table import FeedTable
from rackwright.console.terminal.glyphs import ASCII, UNICODE, Glyphs
from rackwright.console.widgets.form import Form
from rackwright.console.workplace import Workplace
from rackwright.store import library, rig_file
from rackwright.store.library_edits import own_file
from rackwright.store.stock import stock_file

from .bench import (
    FEEDS,
    IN_RIG,
    LIBRARY,
    MAINS,
    SETTINGS,
    SPARES,
    STOCK,
    Bench,
    fill,
    hall,
    open_table,
    press,
    rows_of,
    said,
    shown,
    write,
)

SIZE = (80, 24)
SCROLLBAR = dict.fromkeys(map(ord, "▁▂▃▄▅▆▇█"))
"""Signs that the toolkit draws scrollbars with."""
DATA_SHEET = (
    "lab-900", "Two-channel 900 W, from its data sheet", "2", "1", "500 W at 8 ohm, 900 W at 4 ohm", "",
    "300 at 8 ohm", "30 dB", None, "", "40 W", "0.78", "0.65", "25 A", "30 A", "9 kg",
)  # fmt: skip


def saved_amplifiers() -> list[dict[str, object]]:
    """The amplifiers in the user's file, as the standard library reads it."""
    return tomllib.loads(own_file().read_text("utf-8"))["amplifiers"]


# --- feeds ---


async def test_a_feed_is_added_edited_duplicated_and_all_is_undone() -> None:
    app = Bench(hall())
    async with app.run_test(size=SIZE) as pilot:
        before = app.session.rig
        await open_table(pilot, FEEDS)
        assert isinstance(app.screen, FeedTable)
        await press(pilot, "a")
        await fill(pilot, "delay", "200 Hz to 16 kHz", None, "40 V")
        await press(pilot, "enter")
        feed = app.session.rig.feeds[-1]
        assert (feed.id, feed.band[1].value, feed.limiter_rms and feed.limiter_rms.text) == (
            "delay",
            16e3,
            "40 V",
        )
        assert app.screen.place == "delay"
        await press(pilot, "enter")
        await write(pilot, "0.25 kHz-")
        await press(pilot, "enter")
        assert app.session.rig.feeds[-1].band[0].text == "0.25 kHz"
        await press(pilot, "enter")
        await write(pilot, "1.6k-")
        await press(pilot, "enter")
        assert "1.6 kHz to 16 kHz" in shown(app.screen)
        await press(pilot, "d")
        assert [feed.id for feed in app.session.rig.feeds][-2:] == ["delay", "delay2"]
        assert "delay2" in said(app.screen)
        await press(pilot, *["u"] * 4)
        assert app.session.rig is before
        await press(pilot, "U")
        assert app.session.rig.feeds[-1].id == "delay"
        await press(pilot, "escape")
        assert isinstance(app.screen, Workplace)


async def test_a_feed_in_use_is_removed_only_when_told_what_takes_it() -> None:
    app = Bench(hall())
    async with app.run_test(size=SIZE) as pilot:
        await open_table(pilot, FEEDS)
        await press(pilot, "delete")
        assert "channel A1.1 plays it" in shown(app.screen)
        await press(pilot, "escape")
        assert app.session.rig.feeds[0].id == "sub"
        await press(pilot, "delete", "y")
        assert app.session.rig.feeds[0].id != "sub"
        assert app.session.rig.amplifiers()[0].channel(0).feed == ""


@pytest.mark.parametrize("lock", ["held_by", "edit_locked"])
async def test_a_locked_rig_can_be_read_and_not_changed(lock: str) -> None:
    app = Bench(hall())
    async with app.run_test(size=SIZE) as pilot:
        for table in (FEEDS, IN_RIG):
            app.session.held_by, app.session.edit_locked = "", False
            await open_table(pilot, table)
            setattr(app.session, lock, "someone" if lock == "held_by" else True)
            screen, before = app.screen, app.session.rig
            for key in ("a", "enter", "d", "delete", "u"):
                await press(pilot, key)
                assert app.screen is screen
            assert app.session.rig is before
            assert said(app.screen)
            await press(pilot, "escape")


# --- spares and stock ---


async def test_spares_are_added_edited_duplicated_and_removed_with_undo() -> None:
    app = Bench(hall())
    async with app.run_test(size=SIZE) as pilot:
        before = app.session.rig
        await open_table(pilot, SPARES)
        await press(pilot, "a", *"amp", "enter", "enter")
        added = app.session.rig.spares[-1]
        assert (added.amplifier, added.length, added.count) == ("amp-4ch-250", None, 1)
        assert app.screen.place == "amp-4ch-250"
        await press(pilot, "home", "d", "enter")
        assert "flex-4x2.5 5 m is listed twice" in shown(app.screen)
        await fill(pilot, None, "40 ft", "1000")
        await press(pilot, "enter")
        assert isinstance(app.screen, Form)
        assert "Write a whole" in shown(app.screen)
        await write(pilot, "3")
        await press(pilot, "enter")
        assert [spare.id for spare in app.session.rig.spares][-1] == "flex-4x2.5 40 ft"
        await press(pilot, "enter")
        await fill(pilot, None, "45 ft")
        await press(pilot, "enter")
        assert app.session.rig.spares[-1].id == app.screen.place == "flex-4x2.5 45 ft"
        await press(pilot, "delete", "u", "u", "u", "u")
        assert app.session.rig is before


async def test_stock_is_the_users_own_list_until_the_rig_has_one() -> None:
    own_stock = '[[stock]]\ncable = "flex-2x2.5"\nlength = "20 m"\ncount = 3\n'
    stock_file().parent.mkdir(parents=True, exist_ok=True)
    stock_file().write_text(own_stock, "utf-8")
    app = Bench(hall())
    async with app.run_test(size=SIZE) as pilot:
        await open_table(pilot, STOCK)
        assert "Your own stock list" in shown(app.screen)
        assert "enter edit" not in shown(app.screen)
        assert "Short: 2 × flex-4x4 30 m or longer" in " ".join(shown(app.screen).split())
        short = [line.split("flex-")[1] for line in shown(app.screen).splitlines() if "Short:" in line]
        assert short == sorted(short, key=lambda text: (text.split()[0], int(text.split()[1])))
        await press(pilot, "enter", "d", "delete")
        assert app.session.rig.stock == ()
        await press(pilot, "m")
        assert "enter edit" in shown(app.screen)
        await press(pilot, "a")
        await fill(pilot, None, "30 m", "2")
        await press(pilot, "up", "up", "up", "space", *"flex-4x4", "enter", "enter")
        assert [(owned.id, owned.count) for owned in app.session.rig.stock] == [
            ("flex-2x2.5 20 m", 3),
            ("flex-4x4 30 m", 2),
        ]
        assert "Short: 2 × flex-4x4 30 m or longer" not in " ".join(shown(app.screen).split())
        assert rows_of(app.screen)[1].split()[:5] == ["flex-2x2.5", "20", "m", "3", "3"]
        assert rig_file.loads(rig_file.dumps(app.session.rig)) == app.session.rig
    assert stock_file().read_text("utf-8") == own_stock


async def test_settings_open_as_a_form() -> None:
    app = Bench(hall())
    async with app.run_test(size=SIZE) as pilot:
        await open_table(pilot, SETTINGS)
        await fill(pilot, "Hall, autumn")
        await press(pilot, *["tab"] * 8, "right", "enter")
        assert (app.session.rig.name, app.session.rig.wet) == ("Hall, autumn", True)


# --- the user's library ---


async def test_an_amplifier_is_added_after_a_wrong_value_and_used_in_the_rig() -> None:
    app = Bench(hall())
    async with app.run_test(size=SIZE) as pilot:
        await open_table(pilot, LIBRARY)
        assert isinstance(app.screen, Library)
        assert "del remove" not in shown(app.screen)  # a built-in entry
        await press(pilot, "a")
        await fill(pilot, *DATA_SHEET)
        await press(pilot, *["down"] * 8)
        await write(pilot, "500 W at 8 ohm, 600 W at 8 ohm")
        await press(pilot, "enter")
        assert isinstance(app.screen, EquipmentForm)
        assert "rated twice for one load" in shown(app.screen)
        assert not own_file().exists()
        await write(pilot, DATA_SHEET[4] or "")
        await press(pilot, "enter")
        assert isinstance(app.screen, Library)
        assert "lab-900 is saved" in said(app.screen)
        assert "del remove" in shown(app.screen)
        (entry,) = saved_amplifiers()
        assert entry == {
            "id": "lab-900", "name": DATA_SHEET[1], "channels": 2, "height": 1,
            "ratings": [{"load": "8 ohm", "power": "500 W"}, {"load": "4 ohm", "power": "900 W"}],
            "damping_factor": {"value": 300, "load": "8 ohm"}, "gain": "30 dB", "idle_power": "40 W",
            "efficiency": 0.78, "power_factor": 0.65, "inrush": "25 A", "terminals": "exposed",
            "max_current": "30 A", "weight": "9 kg",
        }  # fmt: skip
        await press(pilot, "escape", "a", *"into", "enter", "space")
        await write(pilot, "lab-900")
        await press(pilot, "enter", "enter")
        assert [a.model for a in app.session.rig.amplifiers() if a.model == "lab-900"] == ["lab-900"]
        assert "lab-900" in [entry.id for entry in app.session.rig.equipment.amplifiers]


async def test_what_a_job_sheet_lacks_is_assumed_until_it_is_typed_and_again_once_emptied() -> None:
    app = Bench(hall())
    async with app.run_test(size=SIZE) as pilot:
        await open_table(pilot, LIBRARY)
        await press(pilot, "a")
        await fill(pilot, "own", "", "2", "2", "900@8, 1500@4", "", "400")
        assert "assumed 32 dB" in shown(app.screen)
        assert not re.search(r"(Gain|Power when idle|Efficiency).*\*", shown(app.screen))
        await press(pilot, "enter")
        assert isinstance(app.screen, Library)
        assert "7 assumed" in next(row for row in rows_of(app.screen) if "own" in row)
        assert saved_amplifiers()[0]["assumed"] == [
            "gain", "idle_power", "efficiency", "power_factor", "inrush", "max_current", "weight",
        ]  # fmt: skip
        await press(pilot, "enter", *["down"] * 7)
        await write(pilot, "35")
        await press(pilot, *["down"] * 4)
        await write(pilot, "0.8")
        await press(pilot, "enter")
        (entry,) = saved_amplifiers()
        assert (entry["gain"], entry["idle_power"], entry["efficiency"]) == ("35 dB", "100 W", 0.8)
        assert entry["assumed"] == ["idle_power", "power_factor", "inrush", "max_current", "weight"]
        await press(pilot, "enter", *["down"] * 7)
        await write(pilot, "")
        await press(pilot, "enter")
        (entry,) = saved_amplifiers()
        assert entry["gain"] == "32 dB"
        assert entry["assumed"] == ["gain", "idle_power", "power_factor", "inrush", "max_current", "weight"]


async def test_a_figure_of_the_rigs_own_amplifier_that_is_emptied_is_assumed_and_warned_of_before_enter() -> (
    None
):
    app = Bench(hall())
    async with app.run_test(size=SIZE) as pilot:
        await open_table(pilot, IN_RIG)
        await press(pilot, "enter", *["down"] * 6)
        await write(pilot, "")
        assert re.search(r"warn.*The gain of", shown(app.screen))
        await press(pilot, "enter")
        assert app.session.rig.equipment.amplifiers[0].assumed == ("gain",)
        await press(pilot, "u")
        assert app.session.rig.equipment.amplifiers[0].assumed == ()


async def test_a_name_that_cant_be_printed_is_told_in_the_librarys_form() -> None:
    app = Bench(hall())
    async with app.run_test(size=SIZE) as pilot:
        await open_table(pilot, LIBRARY)
        await press(pilot, "a")
        await fill(pilot, DATA_SHEET[0], "山", *DATA_SHEET[2:])
        assert "U+5C71" in shown(app.screen)


async def test_a_built_in_entry_is_edited_as_a_copy_and_ones_own_in_its_place() -> None:
    app = Bench(hall())
    async with app.run_test(size=SIZE) as pilot:
        await open_table(pilot, LIBRARY)
        built_in = library.built_in().amplifiers[0].id
        await press(pilot, "enter", "enter")
        assert [entry["id"] for entry in saved_amplifiers()] == [f"{built_in}-mine"]
        assert app.screen.here().entry.id == f"{built_in}-mine"
        mine, *others = (row for row in rows_of(app.screen) if " ch, " in row)
        assert mine.rstrip().endswith("mine")
        assert others
        assert not any("built in" in row for row in others), "the heading tells"
        await press(pilot, "enter")
        await fill(pilot, "workhorse", "Ours")
        await press(pilot, "enter", "d", "enter")
        assert [entry["id"] for entry in saved_amplifiers()] == ["workhorse", "workhorse-2"]
        await press(pilot, "enter")
        await fill(pilot, "workhorse")
        await press(pilot, "enter")
        assert 'You have an amplifier "workhorse" already' in shown(app.screen)
        await press(pilot, "escape", "y", "delete", "y")
        assert [entry["id"] for entry in saved_amplifiers()] == ["workhorse"]


async def test_what_is_built_in_is_marked_and_stays() -> None:
    app = Bench(hall())
    async with app.run_test(size=SIZE) as pilot:
        await open_table(pilot, LIBRARY)
        await press(pilot, "delete")
        assert "only entries of your own" in said(app.screen)
        assert "Amplifiers, built in (demo)" in rows_of(app.screen)[0]
        assert not own_file().exists()


async def test_a_loudspeaker_is_built_of_sections_and_wirings() -> None:
    app = Bench(hall())
    async with app.run_test(size=SIZE) as pilot:
        await open_table(pilot, LIBRARY)
        await press(pilot, *["down"] * 20, "a")
        await fill(pilot, "box-12", "Two-way box")
        await press(pilot, "space", *"4-pole", "enter", "down", "space")
        assert isinstance(app.screen, PartsTable)
        await press(pilot, "a")
        await fill(pilot, "low", None, "8 ohm", "5.8 ohm", "400 W", "", "", "50 Hz", "1.5 kHz")
        await press(pilot, "enter", "d")
        await fill(pilot, "high", None, None, "6 ohm", "60 W", None, None, "1 kHz", "")
        await press(pilot, "enter", "d", "enter", "delete", "escape", "down", "space", "a")
        await fill(pilot, "biamped")
        await write(pilot, "low / hihg")
        assert 'Did you mean "high"?' in shown(app.screen)
        await write(pilot, "low / high")
        await press(pilot, "enter", "escape", "down")
        await write(pilot, "19 kg")
        await press(pilot, "enter")
        assert isinstance(app.screen, Library)
        (entry,) = tomllib.loads(own_file().read_text("utf-8"))["loudspeakers"]
        assert entry["wirings"] == {"biamped": [["low"], ["high"]]}
        assert entry["sections"] == [
            {"id": "low", "kind": "low", "nominal": "8 ohm", "dc_resistance": "5.8 ohm", "continuous": "400 W", "lowest": "50 Hz", "highest": "1.5 kHz"},
            {"id": "high", "kind": "low", "nominal": "8 ohm", "dc_resistance": "6 ohm", "continuous": "60 W", "lowest": "1 kHz"},
        ]  # fmt: skip


async def test_a_section_that_a_wiring_needs_can_be_taken_out_only_with_it() -> None:
    app = Bench(hall())
    async with app.run_test(size=SIZE) as pilot:
        await open_table(pilot, LIBRARY)
        await press(
            pilot,
            *["down"] * len(library.built_in().amplifiers),
            "enter",
            *["down"] * 3,
            "space",
            "delete",
            "escape",
            "enter",
        )
        assert isinstance(app.screen, EquipmentForm)
        assert 'There is no section of sub-double-18-mine "upper"' in shown(app.screen)
        assert not own_file().exists()


async def test_a_form_with_something_typed_is_left_only_when_told() -> None:
    app = Bench(hall())
    async with app.run_test(size=SIZE) as pilot:
        await open_table(pilot, LIBRARY)
        await press(pilot, "a", "escape")
        assert isinstance(app.screen, Library)
        await press(pilot, "a")
        await write(pilot, "half-typed")
        await press(pilot, "escape", "escape")
        assert isinstance(app.screen, EquipmentForm)
        assert app.screen.text_of("id") == "half-typed"
        await press(pilot, "escape", "y")
        assert isinstance(app.screen, Library)


async def test_a_folder_that_cannot_be_written_is_told_in_the_form_and_what_was_typed_stays(
    own_home: Path,
) -> None:
    own_home.write_text("no folder")
    app = Bench(hall())
    async with app.run_test(size=SIZE) as pilot:
        await open_table(pilot, LIBRARY)
        await press(pilot, "enter")
        await write(pilot, "lab-900")
        await press(pilot, "enter")
        assert isinstance(app.screen, EquipmentForm)
        assert "is not saved" in shown(app.screen)
        assert app.screen.text_of("id") == "lab-900"
        own_home.unlink()
        await press(pilot, "enter")
        assert [entry["id"] for entry in saved_amplifiers()] == ["lab-900"]


async def test_comments_in_the_library_are_kept_aside_and_that_is_told() -> None:
    own_file().parent.mkdir(parents=True)
    own_file().write_text("# from the workshop\n", "utf-8")
    app = Bench(hall())
    async with app.run_test(size=SIZE) as pilot:
        await open_table(pilot, LIBRARY)
        await press(pilot, "enter", "enter")
        assert "library.before-save.txt" in said(app.screen)
        assert own_file().with_name("library.before-save.txt").read_text("utf-8") == "# from the workshop\n"


async def test_a_library_that_breaks_while_the_program_runs_is_told_and_not_written_over() -> None:
    app = Bench(hall())
    async with app.run_test(size=SIZE) as pilot:
        own_file().parent.mkdir(parents=True)
        own_file().write_text("amplifiers = [", "utf-8")
        await open_table(pilot, LIBRARY)
        assert "library.toml" in said(app.screen)
        await press(pilot, "enter", "enter")
        assert "Nothing was written" in shown(app.screen)
        assert own_file().read_text("utf-8") == "amplifiers = ["


# --- the equipment of the rig ---


async def test_an_entry_of_the_rig_is_edited_with_undo_and_the_library_is_not() -> None:
    app = Bench(hall())
    async with app.run_test(size=SIZE) as pilot:
        before = app.session.rig
        await open_table(pilot, IN_RIG)
        assert isinstance(app.screen, RigEquipment)
        name = before.equipment.amplifiers[0].id
        assert "Amplifiers, as built in" in rows_of(app.screen)[0]
        await press(pilot, "enter")
        await fill(pilot, None, None, None, "700 W at 8 ohm")
        await press(pilot, "enter")
        changed = app.session.rig.equipment.amplifiers[0]
        assert (changed.id, [r.power.text for r in changed.ratings]) == (name, ["700 W"])
        assert app.session.history.undoes.label == f"edit {name}"
        assert "unlike built in" in rows_of(app.screen)[1]
        await press(pilot, "m", "u")
        assert app.session.rig is before
        assert [entry["id"] for entry in saved_amplifiers()] == [name]
        assert "unlike mine" in rows_of(app.screen)[1]


async def test_a_wiring_of_the_rigs_own_loudspeaker_is_edited() -> None:
    app = Bench(hall())
    async with app.run_test(size=SIZE) as pilot:
        await open_table(pilot, IN_RIG)
        await press(pilot, "down", "down", "down", "enter", "up", "up", "space", "down", "enter")
        await write(pilot, "as-one")
        await press(pilot, "enter", "escape", "enter")
        assert [*app.session.rig.equipment.loudspeakers[0].wirings] == ["split", "as-one"]


async def test_an_entry_is_taken_from_the_library_and_removed_while_nothing_uses_it() -> None:
    app = Bench(hall())
    async with app.run_test(size=SIZE) as pilot:
        before = app.session.rig
        await open_table(pilot, IN_RIG)
        await press(pilot, "delete")
        assert "is in use by A" in said(app.screen)
        await press(pilot, "a")
        await write(pilot, "amplifier amp-2ch-1800")
        await press(pilot, "enter")
        assert app.session.rig.equipment.amplifiers[-1].id == "amp-2ch-1800"
        assert app.screen.here().entry.id == "amp-2ch-1800"
        await press(pilot, "delete")
        assert app.session.rig == before


# --- how it looks ---


@pytest.mark.parametrize("glyphs", [UNICODE, ASCII], ids=["unicode", "ascii"])
async def test_each_table_fits_and_names_its_keys(glyphs: Glyphs) -> None:
    app = Bench(hall(), glyphs)
    async with app.run_test(size=SIZE) as pilot:
        for table in (FEEDS, MAINS, IN_RIG, LIBRARY, SPARES):
            await open_table(pilot, table)
            for size in ((140, 45), SIZE):
                await resized(app, *size)
                await settled(app)
                pane = app.screen.query_one("#table")
                widths = {len(row) for row in rows_of(app.screen) if row.strip()}
                assert max(widths) <= pane.size.width
                text = shown(app.screen)
                for label in ("edit", "close", "help"):
                    assert label in text.splitlines()[-1]
                assert not glyphs.ascii or text.translate(SCROLLBAR).isascii()
            await press(pilot, "escape")


async def test_the_longest_form_shows_its_keys_at_the_least_size() -> None:
    app = Bench(hall())
    async with app.run_test(size=SIZE) as pilot:
        await open_table(pilot, LIBRARY)
        await press(pilot, "enter")
        assert "enter apply" in shown(app.screen)
        await press(pilot, "up")
        assert "Weight" in shown(app.screen)


async def test_a_name_with_brackets_stands_in_the_title_as_it_is() -> None:
    app = Bench(rig_file.loads('name = "Hall [bold] [/x"'))
    async with app.run_test(size=SIZE) as pilot:
        await open_table(pilot, FEEDS)
        assert "Feeds of Hall [bold] [/x" in shown(app.screen)


async def test_every_key_of_a_table_stands_in_its_help() -> None:
    app = Bench(hall())
    async with app.run_test(size=SIZE) as pilot:
        await open_table(pilot, IN_RIG)
        keys = app.screen.KEYS  # type: ignore[attr-defined]
        await press(pilot, "question_mark")
        assert all(command.help in shown(app.screen) for command in keys)


async def test_spares_are_told_apart_from_what_the_rig_plays_on() -> None:
    app = Bench(hall())
    async with app.run_test(size=SIZE) as pilot:
        await open_table(pilot, IN_RIG)
        played = sum(amplifier.model == "amp-4ch-1200" for amplifier in hall().amplifiers())
        (row,) = [row for row in rows_of(app.screen) if "amp-4ch-1200" in row]
        assert f"{played} used, 1 spare" in row
        sockets = sum(socket.connector == "2-pole" for socket in hall().sockets())
        fills = sum(cabinet.model == "front-fill-2x5" for cabinet in hall().cabinets)
        (row,) = [row for row in rows_of(app.screen) if row.strip(" ▶").startswith("2-pole")]
        assert f"{sockets + fills} used" in row, "a socket each, and an inlet each"
