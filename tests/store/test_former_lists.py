"""The lists of version 1 are read as a night: what was to be returned then can be returned now."""

from rackwright.engine import recovery
from rackwright.store import rig_file
from shipped import preset

LIST = """
[[checklists]]
id = "1"
title = "A9.1: share a channel"
failed = ["A9.1"]
when = "2026-05-01 21:40"
steps = [ { kind = "quiet", words = "Mute A9.1.", place = "A9.1", done = true }, { kind = "move", words = "Re-patch." } ]
way_back = [ { kind = "move", words = "Re-patch." } ]

[[checklists.before.sockets]]
id = "R3-1"
connector = "4-pole"
poles = ["A9.1", "A10.1"]

[[checklists.after.sockets]]
id = "R3-1"
connector = "4-pole"
poles = ["A9.2", "A10.1"]
"""


def test_a_list_of_version_1_is_returned_by_what_it_kept() -> None:
    hall = preset("hall")
    (socket,) = [each for each in hall.sockets() if each.id == "R3-1"]
    poles = ", ".join(f'"{pole}"' for pole in socket.poles)
    text = rig_file.dumps(recovery.fail(hall, ["A9.1"])).replace("format = 2", "format = 1")
    moved = text.replace(f"poles = [{poles}]", f"poles = [{poles.replace('A9.1', 'A9.2')}]", 1)
    assert moved != text
    kept = LIST.replace('"A9.1", "A10.1"', poles).replace('"A9.2", "A10.1"', poles.replace("A9.1", "A9.2"))
    rig = rig_file.loads(moved + kept)
    assert [(each.title, each.ticked, each.failed) for each in rig.lists] == [
        ("A9.1: share a channel", 1, ("A9.1",))
    ]
    assert "checklists" not in rig_file.dumps(rig)
    back = recovery.go_back(recovery.repair(rig, ["A9.1"]))
    assert recovery.baseline(back) == hall
