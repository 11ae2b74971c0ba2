"""Journals whose checksum is right and that hold what no session writes: told in a sentence, whatever it is."""

import json
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from model.rigs import RIG
from rackwright.store.safe.journal import Journal, JournalError, recoverable
from rackwright.store.safe.journal_record import framed


def odd(home: Path, about: dict[str, Any], rig: bytes | None = None) -> None:
    """A journal with those things changed in its head, and that text for a rig."""
    keeper = Journal()
    keeper.record(replace(RIG, name="odd"))
    keeper.close()
    (file,) = (home / "journal").iterdir()
    head, _, text = file.read_bytes().partition(b"\n")[2].partition(b"\n")
    body = json.dumps(json.loads(head) | about).encode() + b"\n" + (text if rig is None else rig)
    file.write_bytes(framed(body))


@pytest.mark.parametrize(
    "about",
    [{"path": "a\0b"}, {"path": "\ud800"}, {"when": "0001-01-01T00:00:00+14:00"}, {"when": 5}, {"age": [1, "x"]}, {"count": None}],
    ids=str,
)  # fmt: skip
def test_an_odd_head_counts_as_damage(home: Path, about: dict[str, Any]) -> None:
    odd(home, about)
    (found,) = recoverable()
    assert "can't be used" in found.damage


@pytest.mark.parametrize(
    "rig",
    ["é".encode(), b"[" * 100_000, b"", b"null", b"[]", b'{"name": 1' + b"0" * 5000 + b"}"],
    ids=lambda rig: repr(rig[:12]),
)
def test_an_odd_rig_is_told(home: Path, rig: bytes) -> None:
    odd(home, {}, rig)
    (found,) = recoverable()
    with pytest.raises(JournalError, match="can't be used"):
        found.rig()


def test_a_rig_that_breaks_a_rule_is_told_not_opened(home: Path) -> None:
    odd(
        home,
        {},
        b'{"name": "x", "lines": [{"id": "C1", "from": "gone", "to": "gone", "cable": "c", "length": "5 m"}]}',
    )
    (found,) = recoverable()
    with pytest.raises(JournalError, match="gone"):
        found.rig()
