"""A first rig in three questions: what there is, on which mains, at which venue. What it makes runs, and is the user's to change.

Knows presets, mains and venues; how they meet is the model's, and what comes of them is the engine's to judge.
"""

from collections.abc import Callable, Sequence
from typing import Any, Literal, NamedTuple

from msgspec.structs import replace
from textual.app import App

from rackwright.console.document import UNNAMED
from rackwright.console.screens.start import holds
from rackwright.console.terminal.glyphs import Glyphs
from rackwright.console.widgets.dialog import Picker
from rackwright.console.widgets.fields import Option
from rackwright.engine.assess import assess
from rackwright.engine.finding import counted
from rackwright.model import rules
from rackwright.model.edits import EditError, change_settings
from rackwright.model.rig import Rig
from rackwright.model.venue import at_venue
from rackwright.store import presets, venues
from rackwright.units import Frequency, Voltage

TEACHING = ("faults",)
"""Presets that are wrong on purpose: nobody has them."""
EMPTY, AS_IT_IS, NONE = "an empty rig", "as it is", "none yet"


class Mains(NamedTuple):
    """The public mains of a part of the world: voltage to neutral (IEC 60038, from memory), and the rules that circuits are judged by."""

    name: str
    words: str
    voltage: str
    frequency: str
    rules: Literal["iec", "us"]


MAINS = (
    Mains("230 V, 50 Hz", "IEC rules", "230 V", "50 Hz", "iec"),
    Mains("120 V, 60 Hz", "North American rules", "120 V", "60 Hz", "us"),
    Mains("230 V, 60 Hz", "IEC rules", "230 V", "60 Hz", "iec"),
    Mains("100 V, 50 Hz", "IEC rules", "100 V", "50 Hz", "iec"),
    Mains("100 V, 60 Hz", "IEC rules", "100 V", "60 Hz", "iec"),
)


def on_mains(rig: Rig, mains: Mains) -> Rig:
    """The rig on other mains, on the phases that its circuits are on. Raises EditError where it can't be."""
    supply = replace(
        rig.supply,
        voltage=Voltage.parse(mains.voltage),
        frequency=Frequency.parse(mains.frequency),
        rules=mains.rules,
        phases=rig.supply.phases if mains.rules == "us" or rig.supply.phases != 2 else None,
    )
    return change_settings(rig, supply=supply)


def ask(app: App[Any], glyphs: Glyphs, then: Callable[[Rig], None], left: Callable[[], None]) -> None:
    """Ask the three questions, escape going back by one, `left` at the first; then do `then` with the rig."""

    def what() -> None:
        rigs = {p.title: p.rig for p in presets.listed() if p.rig is not None and p.name not in TEACHING}
        rigs = dict(sorted(rigs.items(), key=lambda each: len(each[1].cabinets)))
        options = [Option(title, holds(rig)) for title, rig in rigs.items()]
        _pick(1, "What do you have?", [*options, Option(EMPTY, "build it yourself")],
              lambda title: where(rigs.get(title, Rig(name=UNNAMED))), left)  # fmt: skip

    def where(rig: Rig) -> None:
        found = {AS_IT_IS: rig, **{each.name: on_mains(rig, each) for each in MAINS}}
        words = {AS_IT_IS: str(rig.supply.voltage), **{each.name: each.words for each in MAINS}}
        options = [Option(name, f"{words[name]}: {judged(there)}") for name, there in found.items()]
        _pick(2, "On which mains?", options, lambda name: venue(found[name]), what)

    def venue(rig: Rig) -> None:
        found = {NONE: rig}
        options = [Option(NONE, judged(rig))]
        for kept in venues.listed():
            if (facts := kept.facts) is None:
                continue
            try:
                there = at_venue(rig, facts)
            except EditError:  # it has what this rig can't be on
                continue
            found[kept.title or kept.name] = there
            options.append(Option(kept.title or kept.name, f"{facts.supply.voltage}: {judged(there)}"))
        _pick(3, "At which venue?", options, lambda name: then(found[name]), lambda: where(rig))

    def _pick(
        number: int,
        title: str,
        options: Sequence[Option],
        do: Callable[[str], None],
        back: Callable[[], None],
    ) -> None:
        def done(value: str | None) -> None:
            if value is None:
                back()
            else:
                do(value)

        app.push_screen(Picker(f"{number} of 3: {title}", options, glyphs, out="back"), done)

    what()


def judged(rig: Rig) -> str:
    """What there is to say of a rig, in a few words."""
    if problems := rules.check(rig):
        return str(problems[0])
    if not rig.cabinets:
        return "nothing in it yet"
    found = assess(rig)
    told = [counted(found.count(each), each) for each in ("stop", "warn") if found.count(each)]
    return " and ".join(told) or "no problems"
