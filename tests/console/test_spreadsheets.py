"""The key for spreadsheets: a list is seen before it is taken, what is wrong is told, and what is exported is imported again."""

from pathlib import Path

import pytest

from rackwright.engine import recovery
from rackwright.model import edits
from rackwright.model.equipment import Equipment
from rackwright.store import library_edits
from rackwright.store.library import library, user_library
from shipped import preset
from store.workbooks import xlsx

from .hand import Hand, opened


async def read(hand: Hand, path: Path) -> None:
    await hand.press("I")
    await hand.pick("import")
    await hand.type(str(path))
    await hand.press("enter")
    await hand.settle()


async def test_lengths_of_a_workbook_are_shown_then_taken_and_undone(tmp_path: Path) -> None:
    name = preset("small-room").lines[0].id
    path = tmp_path / "lengths.xlsx"
    path.write_bytes(xlsx({"Lengths": [("line", "length (m)"), (name, 33)], "Notes": [("a", "b")]}))
    async with opened(preset="small-room") as hand:
        before = hand.rig
        await read(hand, path)
        assert "Read which worksheet?" in hand.text
        await hand.press("enter")
        await hand.settle()
        assert "33 m" in hand.text
        assert hand.rig is before
        await hand.press("enter")
        assert hand.rig.lines[0].length.value == 33
        await hand.press("u")
        assert hand.rig == before


async def test_a_list_with_a_slip_is_told_with_its_cell_and_one_exported_goes_into_the_own_lists(
    tmp_path: Path,
) -> None:
    path = tmp_path / "cables.csv"
    async with opened(preset="small-room") as hand:
        await hand.press("I")
        await hand.pick("export")
        await hand.pick("cables")
        await hand.write(str(path))
        await hand.press("enter")
        assert "Wrote cables to" in hand.text
        text = path.read_text()
        path.write_text(text.replace("Flexible", "柔軟"))
        await read(hand, path)
        assert "U+67D4" in hand.text, "a name that can't be printed is told before it is taken"
        await hand.press("escape")
        path.write_text(text)
        await read(hand, path)
        assert "U+" not in hand.text
        library_edits.save_entries(Equipment(cables=hand.rig.equipment.cables[:1]))
        with library_edits.own_file().open("a") as own:
            own.write("# bought in May\n")
        await hand.press("l")
        assert "comments, is saved in" in hand.words
        assert hand.workplace.editor.library == library()
        assert "# bought in May" in next(library_edits.own_file().parent.glob("*.txt")).read_text()
        assert {entry.id for entry in user_library().cables} == {e.id for e in hand.rig.equipment.cables}
        path.write_text(text.replace(",4,", ",four,"))
        await read(hand, path)
        assert "column C (cores)" in hand.text


async def test_what_an_imported_amplifier_has_no_figure_of_is_said_to_be_assumed_before_it_is_taken(
    tmp_path: Path,
) -> None:
    path = tmp_path / "job-sheet.csv"
    path.write_text(
        "id,channels,rack units,power 8 ohm (W),power 4 ohm (W),damping factor 8 ohm,terminals,gain\n"
        "own,2,2,900,1500,400,exposed,\nother,2,2,900,1500,400,exposed,35 dB\n"
    )
    async with opened(preset="small-room", size=(140, 45)) as hand:
        await read(hand, path)
        assert "own: blank or assumed, and counted with: gain 32 dB, idle power 100 W" in hand.text
        assert "other: blank or assumed, and counted with: idle power 100 W" in hand.text
        await hand.press("enter")
        gains = {m.id: (m.gain.text, "gain" in m.assumed) for m in hand.rig.equipment.amplifiers}
        assert (gains["own"], gains["other"]) == (("32 dB", True), ("35 dB", False))


@pytest.mark.parametrize("kind", ["lengths", "readings", "stock"])
async def test_what_is_imported_during_a_night_goes_into_the_rig_returned_to_and_nothing_else_of_tonight(
    kind: str, tmp_path: Path
) -> None:
    line = preset("small-room").lines[0]
    path = tmp_path / "list.csv"
    path.write_text(
        {
            "lengths": f"line,length (m)\n{line.id},33\n",
            "readings": f"line,pair,reading\n{line.id},1,5.7\n",
            "stock": f"cable,length (m),count\n{line.cable},20,4\n",
        }[kind]
    )
    async with opened(preset="small-room") as hand:
        good, amplifier = hand.rig, hand.rig.amplifiers()[0]
        other = next(each.id for each in good.circuits if each.id != amplifier.circuit)
        hand.session.apply(
            "use another circuit", lambda rig: edits.change(rig, amplifier.id, circuit=other), tonight=True
        )
        hand.workplace.redraw()
        await read(hand, path)
        await hand.press("enter")
        if kind == "lengths":
            assert "for tonight or for good" in hand.words
            await hand.press("g")
        assert hand.rig.amplifiers()[0].circuit == other
        before = recovery.baseline(hand.rig)
        assert (before.racks, before.cabinets) == (good.racks, good.cabinets)
        assert (before.lines, before.readings, before.stock) != (good.lines, good.readings, good.stock)


async def test_the_folder_of_a_user_that_is_not_here_is_told() -> None:
    async with opened(preset="small-room") as hand:
        await read(hand, Path("~no-such-user/lengths.csv"))
        assert "Nothing is imported" in hand.text
        await hand.press("escape", "I")
        await hand.pick("export")
        await hand.pick("lines")
        await hand.write("~no-such-user/lines.csv")
        await hand.press("enter")
        assert "there is no such folder" in hand.words
