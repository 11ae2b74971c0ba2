"""The README: it promises nothing at its head, and the presets that its commands name are shipped."""

import re
from pathlib import Path

from rackwright.store import presets

TEXT = (Path(__file__).parents[1] / "README.md").read_text("utf-8")
PROMISE = re.compile(
    r"\b(keeps (every|all)|always|never|guarantee\w*|ensures?|all night|in a second|safe(ly)?|no live)\b"
)


def test_what_it_says_at_its_head_is_no_promise() -> None:
    head, _, rest = TEXT.partition("```sh")
    assert PROMISE.search(head) is None
    assert "warns" in head
    assert "licensed electrician" in rest.partition("## ")[0]


def test_every_preset_of_its_commands_is_shipped() -> None:
    named = set(
        re.findall(r"rackwright (?:check|recover|rehearse|presets copy|why) ([a-z-]+)(?= |$)", TEXT, re.M)
    )
    named -= {"my-rig"}
    assert {"hall", "small-room"} <= named
    assert [name for name in sorted(named) if presets.find(name) is None] == []
