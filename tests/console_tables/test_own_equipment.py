"""The user's library on disk: read back with the standard library's TOML reader, never lost, never left unreadable."""

import os
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from rackwright.model.equipment import EQUIPMENT_KINDS, Equipment, equipment_kind
from rackwright.store import library
from rackwright.store.library_edits import (
    RigFileError,
    SaveError,
    own_file,
    remove_entry,
    save_entry,
    with_entry,
)
from rackwright.store.safe import atomic_write
from rackwright.units import Power

DUO = replace(library.built_in().amplifiers[0], id="my-duo")
PLUG = replace(library.built_in().connectors[1], id="my-plug")
SUB = replace(library.built_in().loudspeakers[0], id="my-sub", connector="my-plug")


def on_disk(kind: str) -> list[str]:
    """The ids of that kind in the user's file."""
    return [entry["id"] for entry in tomllib.loads(own_file().read_text("utf-8")).get(kind, [])]


def test_entries_are_saved_in_a_file_that_the_library_reads() -> None:
    for entry in (DUO, PLUG, SUB):
        assert save_entry(entry) is None
    assert library.user_library() == Equipment(amplifiers=(DUO,), loudspeakers=(SUB,), connectors=(PLUG,))
    assert on_disk("amplifiers") == ["my-duo"]


def test_an_entry_is_replaced_where_it_stands_also_under_another_name() -> None:
    for name in ("a", "b", "c"):
        save_entry(replace(DUO, id=name))
    save_entry(replace(DUO, id="b", idle_power=Power.parse("61 W")))
    assert library.user_library().amplifiers[1].idle_power.text == "61 W"
    save_entry(replace(DUO, id="bee"), former="b")
    assert on_disk("amplifiers") == ["a", "bee", "c"]


def test_a_name_that_another_of_the_users_entries_has_is_refused() -> None:
    save_entry(DUO)
    save_entry(replace(DUO, id="other"))
    before = own_file().read_bytes()
    with pytest.raises(RigFileError, match='"my-duo" is listed twice'):
        save_entry(DUO, former="other")
    assert own_file().read_bytes() == before


def test_an_entry_of_another_of_the_users_files_is_saved_there() -> None:
    save_entry(DUO)
    rented = own_file().with_name("rented.toml")
    own_file().rename(rented)
    save_entry(replace(DUO, name="Ours"))
    assert not own_file().exists()
    assert tomllib.loads(rented.read_text("utf-8"))["amplifiers"][0]["name"] == "Ours"
    save_entry(replace(DUO, id="new"))
    assert on_disk("amplifiers") == ["new"]
    with pytest.raises(RigFileError, match="another of your equipment files"):
        save_entry(DUO, former="new")


def test_a_removed_entry_leaves_the_others_and_the_last_takes_the_file_along() -> None:
    save_entry(DUO)
    save_entry(PLUG)
    remove_entry("connectors", "my-plug")
    remove_entry("connectors", "no-such")
    assert library.user_library() == Equipment(amplifiers=(DUO,))
    remove_entry("amplifiers", "my-duo")
    assert library.user_library() == Equipment()
    assert not own_file().exists()


def test_a_connector_that_a_loudspeaker_of_the_user_needs_stays() -> None:
    save_entry(PLUG)
    save_entry(SUB)
    before = own_file().read_bytes()
    with pytest.raises(RigFileError, match="my-plug"):
        remove_entry("connectors", "my-plug")
    assert own_file().read_bytes() == before


def test_comments_are_kept_aside_where_the_library_does_not_read_them() -> None:
    save_entry(DUO)
    commented = "# measured on the bench\n" + own_file().read_text("utf-8")
    own_file().write_text(commented, "utf-8")
    aside = save_entry(PLUG)
    assert aside is not None
    assert aside.read_text("utf-8") == commented
    assert library.user_library() == Equipment(amplifiers=(DUO,), connectors=(PLUG,))
    own_file().write_text("# another\n" + own_file().read_text("utf-8"), "utf-8")
    second = remove_entry("connectors", "my-plug")
    assert second not in (None, aside)
    assert library.user_library() == Equipment(amplifiers=(DUO,))


def test_a_file_that_cannot_be_read_is_not_written_over() -> None:
    save_entry(DUO)
    own_file().write_text("amplifiers = [", "utf-8")
    with pytest.raises(RigFileError, match=r"library\.toml"):
        save_entry(PLUG)
    assert own_file().read_text("utf-8") == "amplifiers = ["


def test_a_disk_that_is_full_is_told_and_loses_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    save_entry(DUO)
    before = own_file().read_bytes()

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(atomic_write.os, "replace", full)
    with pytest.raises(SaveError, match="disk is full"):
        save_entry(PLUG)
    assert own_file().read_bytes() == before
    assert os.listdir(own_file().parent) == ["library.toml"]


def test_a_folder_that_cannot_be_made_is_told(own_home: Path) -> None:
    own_home.write_text("in the way")
    with pytest.raises(SaveError, match="is not saved"):
        save_entry(DUO)


entries = st.sampled_from(library.built_in().entries())


@given(st.lists(st.tuples(entries, st.sampled_from(["x", "y", "z"])), max_size=8))
def test_saving_and_removing_are_what_they_are_in_memory(steps: list[tuple[object, str]]) -> None:
    for kind in EQUIPMENT_KINDS:
        for name in "xyz":
            remove_entry(kind, name)
    own = Equipment()
    for number, (entry, name) in enumerate(steps):
        called = replace(entry, id=name)
        if number % 3 == 2:
            own = own.without(equipment_kind(called), name)
            remove_entry(equipment_kind(called), name)
        else:
            own = with_entry(own, called)
            save_entry(called)
        assert library.user_library() == own
