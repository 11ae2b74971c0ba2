"""The lines pane: what stands at each section, and why a silent one is silent."""

from msgspec.structs import replace

from rackwright.console.rows import lines
from rackwright.console.terminal.glyphs import UNICODE
from rackwright.engine.assess import assess
from rackwright.model.rig import Rig
from shipped import preset


def told(rig: Rig) -> dict[str, str]:
    """Place → the words of its row."""
    rows = lines.view(assess(rig), UNICODE).rows(70)
    return {row.place: "".join(text for text, _ in row.parts) for row in rows}


def test_a_silent_section_says_why() -> None:
    rig = preset("hall")
    first, *others = rig.racks
    amplifier, *rest = first.amplifiers
    fed, dead, *channels = amplifier.channels
    changed = replace(amplifier, channels=(replace(fed, feed=""), replace(dead, state="failed"), *channels))
    before, after = (
        told(rig),
        told(replace(rig, racks=(replace(first, amplifiers=(changed, *rest)), *others))),
    )
    assert "silent" not in before["SUB-L1.upper"]
    assert "silent: no feed" in after["SUB-L1.upper"]
    assert "silent: A1.2 failed" in after["SUB-L1.lower"]
    unwired = told(replace(rig, lines=()))
    assert "silent: no channel" in unwired["SUB-L1.upper"]
