"""The built-in catalogue, the user's own entries over it, and the presets."""

import subprocess
import sys
from pathlib import Path

import pytest

from rackwright.model.rules import check_equipment
from rackwright.store import presets
from rackwright.store.library import built_in, library, user_library
from rackwright.store.presets import PresetError, copy_out, find, listed
from rackwright.store.rig_file import RigFileError, load, loads, save
from store import sample


@pytest.fixture
def mine(own_home: Path) -> Path:
    """The user's folder with one equipment file in it."""
    (own_home / "equipment").mkdir()
    (own_home / "equipment" / "mine.toml").write_text(sample.EQUIPMENT)
    return own_home


def test_the_built_in_catalogue_keeps_the_rules_and_says_it_is_a_demo() -> None:
    assert check_equipment(built_in()) == ()
    assert built_in().amplifiers
    assert all("demo" in entry.name for entry in built_in().entries())


def test_without_files_of_the_user_the_library_is_the_built_in_one() -> None:
    assert library() == built_in()


def test_the_users_entries_win_over_the_built_in_ones(mine: Path) -> None:
    taken = built_in().cables[0].id
    (mine / "equipment" / "cables.toml").write_text(
        f'[[cables]]\nid = "{taken}"\ncores = 4\nsize = "10 mm2"\nmax_current = "99 A"\n'
    )
    cables = {cable.id: cable.max_current.text for cable in library().cables}
    assert cables[taken] == "99 A"
    assert len(cables) == len(built_in().cables) + (
        0 if "flex-4x2.5" in {c.id for c in built_in().cables} else 1
    )


def test_a_users_entry_may_use_a_built_in_connector(own_home: Path) -> None:
    (own_home / "equipment").mkdir()
    speaker = sample.EQUIPMENT[
        sample.EQUIPMENT.index("[[loudspeakers]]") : sample.EQUIPMENT.index("[[cables]]")
    ]
    pairs = next(entry for entry in built_in().connectors if entry.pole_pairs >= 2)
    (own_home / "equipment" / "box.toml").write_text(speaker.replace('"plug"', f'"{pairs.id}"'))
    assert [entry.id for entry in user_library().loudspeakers] == ["box"]


def test_a_broken_file_of_the_user_is_named_with_its_line(mine: Path) -> None:
    path = mine / "equipment" / "mine.toml"
    path.write_text(sample.changed('size = "2.5 mm2"', "size = 2.5", sample.EQUIPMENT))
    with pytest.raises(RigFileError) as caught:
        library()
    line = sample.line_with("size = 2.5", path.read_text())
    assert str(caught.value).startswith(
        f'{path}, line {line}: cable "flex-4x2.5" › size: 2.5 is a plain number'
    )


def test_breaches_in_a_file_of_the_user_are_told(mine: Path) -> None:
    path = mine / "equipment" / "mine.toml"
    path.write_text(sample.changed("cores = 4", "cores = 5", sample.EQUIPMENT))
    with pytest.raises(RigFileError, match=r"flex-4x2\.5 has 5 cores"):
        library()


def test_an_id_in_two_files_of_the_user_is_told(mine: Path) -> None:
    (mine / "equipment" / "two.toml").write_text(sample.EQUIPMENT)
    with pytest.raises(RigFileError, match=r'two\.toml, line 2: amplifier "two" › id: "two" is in another'):
        library()


def test_a_rig_that_carries_its_equipment_opens_beside_a_broken_library(mine: Path) -> None:
    (mine / "equipment" / "mine.toml").write_text("broken")
    assert loads(sample.WHOLE).name == "Boat house"
    with pytest.raises(RigFileError, match=r"mine\.toml"):
        loads(sample.RIG)


def test_a_rig_file_is_filled_from_the_users_library(mine: Path) -> None:
    assert loads(sample.RIG).equipment == user_library()


# ---- Presets -------------------------------------------------------------------------------------------


RIG = """
name = "Small"
[[racks]]
id = "R1"
height = 4
amplifiers = [ { id = "A1", model = "quad-1200", unit = 1 } ]
sockets = [ { id = "R1-1", connector = "locking-4", poles = ["A1.1", ""] } ]
"""


def test_a_rig_that_calls_demo_equipment_as_it_once_was_is_read() -> None:
    (rack,) = loads(RIG).racks
    assert (rack.amplifiers[0].model, rack.sockets[0].connector) == ("amp-4ch-1200", "4-pole")


def test_an_entry_of_the_users_keeps_the_id_that_demo_equipment_had(own_home: Path) -> None:
    (own_home / "equipment").mkdir()
    text = sample.changed('id = "two"', 'id = "quad-1200"', sample.EQUIPMENT)
    (own_home / "equipment" / "mine.toml").write_text(text)
    assert loads(RIG).racks[0].amplifiers[0].model == "quad-1200"


def test_a_loudspeaker_of_the_users_may_name_a_connector_as_it_once_was(mine: Path) -> None:
    text = sample.changed('connector = "plug"', 'connector = "locking-8"', sample.EQUIPMENT)
    (mine / "equipment" / "mine.toml").write_text(text)
    assert user_library().loudspeakers[0].connector == "8-pole"


@pytest.fixture
def preset(mine: Path) -> Path:
    """A preset of the user's that carries no equipment."""
    (mine / "presets").mkdir()
    path = mine / "presets" / "boat.toml"
    path.write_text(f"# A boat house, invented.\n\n{sample.RIG}")
    return path


def test_every_shipped_preset_loads_and_carries_its_notes() -> None:
    found = [preset for preset in listed() if preset.origin == "shipped"]
    assert [preset.error for preset in found] == [""] * len(found)
    assert all(preset.title and preset.notes for preset in found)
    assert {path.stem for path in presets.shipped_folder().glob("*.toml")} == {
        preset.name for preset in found
    }


def test_a_preset_is_listed_with_its_title_and_its_notes(preset: Path) -> None:
    boat = find("boat")
    assert boat is not None
    assert boat in listed()
    assert (boat.path, boat.origin, boat.title, boat.notes, boat.error) == (
        preset,
        "yours",
        "Boat house",
        "Two lines,\n[[lines]] in a text is none.",
        "",
    )


def test_a_broken_preset_is_listed_with_its_first_error(preset: Path) -> None:
    preset.write_text(sample.RIG.replace("mode =", "mood =").replace('to = "C2"', 'to = "C8"'))
    boat = find("boat")
    assert boat is not None
    assert 'There is no key "mood" here' in boat.error
    assert "\n" not in boat.error
    assert boat in listed()


def test_a_copy_keeps_the_presets_text_and_carries_its_equipment(preset: Path, tmp_path: Path) -> None:
    target = tmp_path / "rig.toml"
    copy_out("boat", target)
    assert target.read_text().startswith(preset.read_text())
    assert load(target) == load(preset)
    (preset.parents[1] / "equipment" / "mine.toml").unlink()
    assert load(target).name == "Boat house"


def test_a_copy_of_a_preset_whose_equipment_can_not_be_added_to_is_written_anew(
    preset: Path, tmp_path: Path
) -> None:
    preset.write_text(f"equipment = {{ cables = [] }}\n{sample.RIG}")
    copy_out("boat", tmp_path / "rig.toml")
    assert load(tmp_path / "rig.toml") == load(preset)


def test_a_copy_never_overwrites(preset: Path, tmp_path: Path) -> None:
    target = tmp_path / "rig.toml"
    target.write_text("mine")
    with pytest.raises(PresetError, match="exists already"):
        copy_out("boat", target)
    (tmp_path / "link").symlink_to(tmp_path / "none")
    with pytest.raises(PresetError, match="exists already"):
        copy_out("boat", tmp_path / "link")
    assert target.read_text() == "mine"


def test_an_unknown_preset_is_told_with_those_there_are(preset: Path, tmp_path: Path) -> None:
    assert find("bote") is None
    with pytest.raises(PresetError, match=r'There is no preset "boad"\. Did you mean "boat"\?'):
        copy_out("boad", tmp_path / "rig.toml")
    with pytest.raises(PresetError, match=r"There are: .*boat"):
        copy_out("zzz", tmp_path / "rig.toml")


def test_a_users_preset_takes_the_place_of_a_shipped_one(
    preset: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    save(loads(sample.WHOLE.replace("Boat house", "Shipped")), tmp_path / "boat.toml")
    monkeypatch.setattr(presets, "shipped_folder", lambda: tmp_path)
    assert [(found.title, found.origin) for found in listed()] == [("Boat house", "yours")]
    preset.unlink()
    assert [(found.title, found.origin) for found in listed()] == [("Shipped", "shipped")]


def test_opening_a_rig_imports_nothing_heavy() -> None:
    script = (
        "import sys; from rackwright.store import rig_file, presets\n"
        f"rig_file.loads({sample.WHOLE!r})\n"
        "print([name for name in ('pint', 'numpy', 'textual', 'platformdirs', 'rich') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
