"""What is saved is what is loaded; and what is written is TOML as others read and write it."""

import tomllib
from pathlib import Path

import pytest
import tomli_w
from hypothesis import given
from hypothesis import strategies as st

from rackwright.model import rules
from rackwright.model.mains import Supply
from rackwright.model.rig import Rig
from rackwright.store.library import equipment_of
from rackwright.store.rig_file import dumps, load, loads, save
from rackwright.store.toml.encode import as_toml, entry_text, plain
from rackwright.units import Temperature
from store import sample
from strategies import ODD_TEXTS, rigs, texts


@given(rigs())
def test_any_rig_survives_save_and_load(tmp_path_factory: pytest.TempPathFactory, rig: Rig) -> None:
    assert rules.check(rig) == ()
    path = tmp_path_factory.getbasetemp() / "rig.toml"
    save(rig, path)
    again = load(path)
    assert again == rig
    # dictionaries are equal in any order, and the first wiring is the default one
    assert dumps(again) == dumps(rig)


@given(rigs())
def test_the_data_written_by_an_independent_writer_loads_as_the_same_rig(rig: Rig) -> None:
    """Source: tomli-w, a general TOML writer, from the same plain data."""
    assert loads(tomli_w.dumps(plain(rig))) == rig
    assert tomllib.loads(as_toml(plain(rig))) == plain(rig)


@given(st.lists(st.sampled_from([*ODD_TEXTS, '"', '""', "\\", "\n", "x"]), max_size=6).map("".join) | texts())
def test_any_text_is_written_as_toml_that_reads_back(text: str) -> None:
    data = {"name": text, "list": [text], "feed": {text: text}}
    assert tomllib.loads(as_toml(data)) == data


def test_what_was_typed_is_what_is_saved() -> None:
    assert 'length = "80 ft"' in dumps(loads(sample.WHOLE))


def test_a_value_that_equals_its_default_is_left_out_but_for_the_format() -> None:
    assert dumps(Rig(name="Empty")) == 'format = 2\nname = "Empty"\n'


def test_a_quantity_typed_otherwise_than_the_default_is_kept() -> None:
    rig = Rig(name="Empty", supply=Supply(ambient=Temperature.parse("20 °C")))
    assert loads(dumps(rig)) == rig
    assert '[supply]\nambient = "20 °C"' in dumps(rig)


def test_racks_are_tables_channels_stand_on_one_line_and_notes_over_several() -> None:
    text = dumps(loads(sample.WHOLE))
    assert '\n[[racks.amplifiers]]\nid = "A1"\n' in text
    assert 'channels = [ { feed = "sub" }, { feed = "sub", state = "failed" } ]\n' in text
    assert 'supply_cable = { length = "30 m", size = "2.5 mm2" }\n' in text
    assert 'notes = """\nTwo lines,\n[[lines]] in a text is none."""\n' in text
    assert "\ndamping_factor = { value = 300, load =" in text


def test_a_short_file_is_filled_up_from_the_library_and_carries_it_from_then_on() -> None:
    library = equipment_of(sample.EQUIPMENT.replace('"400 W"', '"444 W"'), "library", Rig(name="").equipment)
    rig = loads(sample.RIG, library=library)
    assert rig.equipment == library
    assert loads(dumps(rig), library=Rig(name="").equipment) == rig


def test_the_file_wins_over_the_library_and_keeps_entries_nothing_uses() -> None:
    library = equipment_of(sample.EQUIPMENT, "library", Rig(name="").equipment)
    own = sample.EQUIPMENT[sample.EQUIPMENT.index("[[cables]]") : sample.EQUIPMENT.index("[[connectors]]")]
    unused = own.replace('"flex-4x2.5"', '"spare"').replace("[[", "[[equipment.")
    text = sample.RIG + unused + own.replace('"25 A"', '"99 A"').replace("[[", "[[equipment.")
    cables = loads(text, library=library).equipment.cables
    assert [(cable.id, cable.max_current.text) for cable in cables] == [
        ("spare", "25 A"),
        ("flex-4x2.5", "99 A"),
    ]


def test_an_entry_is_shown_as_it_stands_in_an_equipment_file() -> None:
    rig = loads(sample.WHOLE)
    text = "\n".join(entry_text(entry) for entry in rig.equipment.entries())
    assert equipment_of(text, "shown", Rig(name="").equipment) == rig.equipment


def test_a_byte_order_mark_and_the_line_ends_of_another_system_are_accepted(tmp_path: Path) -> None:
    path = tmp_path / "rig.toml"
    path.write_bytes(b"\xef\xbb\xbf" + sample.WHOLE.replace("\n", "\r\n").encode())
    assert load(path) == loads(sample.WHOLE)
