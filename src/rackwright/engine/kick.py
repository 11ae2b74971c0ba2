"""A kick at one woofer: as it is wired, with an ideal source, as before, and with all woofers of its amplifier chained.

Holds which wirings are laid side by side and what may be said of them. The formulae are those of `decay`.
"""

import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from rackwright.engine import decay
from rackwright.engine.assess import Assessed
from rackwright.engine.channel import Branch
from rackwright.engine.decay import Kick
from rackwright.engine.loudspeaker import Array
from rackwright.model.equipment import Driver, Section
from rackwright.units import short

RULED = 20.0
"""Damping factor past which the coil's own resistance rules. Common practice, no source."""
LONG = 7.0
"""How long the picture is, in cycles of the kick."""
POINTS = 400
NOW, OWN = "as wired", "on its own pair"


class Wired(NamedTuple):
    """The woofer behind one source resistance."""

    words: str
    resistance: float
    """Ω."""
    damping_factor: float
    """The nominal impedance over that; infinite with an ideal source."""
    decay: float
    """s to −20 dB."""
    kick: Kick


class Picture(NamedTuple):
    """A woofer's kick in every wiring that is laid beside the present one."""

    section: str
    frequency: float
    """Hz, of the kick: the lower edge of the band."""
    nominal: float
    """Ω."""
    wired: tuple[Wired, ...]
    """As it is first, with an ideal source second."""
    vented: bool
    apart_and_chained: tuple[Wired, Wired] | None = None
    """On its own pair, and with all woofers of its amplifier chained on one; None where it is alone."""

    @property
    def remark(self) -> str:
        """What can honestly be said of hearing the difference."""
        now, ideal, *_ = self.wired
        if now.damping_factor >= RULED:
            told = [
                f"Past a damping factor of about {RULED:g} the coil's own resistance rules: the cable is hardly heard."
            ]
        else:
            told = ["The cable is heard in level and tone before it is heard in the decay."]
        if self.apart_and_chained is not None:
            apart, chained = self.apart_and_chained
            lost = 20 * math.log10((self.nominal + chained.resistance) / (self.nominal + apart.resistance))
            longer = float(short(1000 * chained.decay)) - float(
                short(1000 * apart.decay)
            )  # of the figures shown
            told.append(
                f"Chained, not a pair each: {lost:.1f} dB less level, {abs(longer):.1f} ms "
                f"{'longer' if longer > 0 else 'shorter'} decay: level and tone are heard first."
            )
        if self.vented:
            shorter = "; this cable even shortens it" if now.decay < ideal.decay else ""
            told.append(f"A vented box rings on whatever the cable{shorter}.")
        told.append(
            "Hearing: common practice, no source. Drawn at one level, without inductance and filters."
        )
        return " ".join(told)


def pictures(assessed: Assessed, before: Assessed | None = None) -> Iterator[Picture]:
    """The kick of each kind of woofer on each feed, at the one with the most resistance before it."""
    worst: dict[tuple[Section, str], tuple[float, str, str]] = {}
    for branch in assessed.branches.values():
        for at in _woofers(branch):
            result, key = branch.sections[at], (branch.models[at], branch.result.feed)
            found = (result.source_resistance or 0.0, branch.id, result.id)
            worst[key] = max(worst.get(key, found), found, key=lambda each: each[0])
    for _, channel, place in worst.values():
        if picture := pictured(assessed, channel, place, before):
            yield picture


def pictured(assessed: Assessed, channel: str, place: str, before: Assessed | None = None) -> Picture | None:
    """The kick at the woofer of `channel` that `place` names, else at its first; None where it drives no such thing.

    A woofer is a section of kind low or full with driver data and no capacitor in series. `before` is a state to compare with.
    On its own pair a source resistance is that of the output and of the way to it; n alike that are chained on that pair share
    it, which counts n times for each, since all are driven alike [1]_. The kick itself is `decay.kick`.

    >>> [wired.words for wired in pictured(hall, "A1.1", "SUB-L1.upper").wired]
    ['as wired', 'ideal source', 'all 4 of A1 chained on one pair']

    .. [1] Ohm's law and Kirchhoff's.
    """
    branch = assessed.branches[channel]
    woofers = list(_woofers(branch))
    if not woofers or branch.feed is None:
        return None
    named = [at for at in woofers if place in (branch.sections[at].id, branch.sections[at].cabinet)]
    at = (named or woofers)[0]
    result, model = branch.sections[at], branch.models[at]
    driver, low = model.driver, branch.feed.band[0].value
    if driver is None or result.source_resistance is None:
        return None
    own = branch.output.resistance + sum(run.node.resistance for run in branch.way(at))
    many = sum(
        1
        for other in assessed.branches.values()
        if other.amplifier is branch.amplifier and other.live
        for each in _woofers(other)
        if other.models[each].driver == driver
    )
    chained = f"all {many} of {branch.amplifier.id} chained on one pair"
    resistances = {NOW: result.source_resistance, "ideal source": 0.0}
    earlier = before.sections.get(result.id) if before is not None else None
    if earlier is not None and earlier.source_resistance is not None:
        resistances["before"] = earlier.source_resistance
    if not math.isclose(own, result.source_resistance, rel_tol=1e-6):
        resistances[OWN] = own
    if many > 1:
        resistances[chained] = own * many
    time = np.linspace(0, LONG / low, POINTS)
    wired = {words: _wired(words, model, driver, value, low, time) for words, value in resistances.items()}
    together = (wired.get(OWN, wired[NOW]), wired[chained]) if chained in wired else None
    vented = driver.box == "vented"
    return Picture(result.id, low, model.nominal.value, tuple(wired.values()), vented, together)


def _wired(words: str, model: Section, driver: Driver, resistance: float, low: float, time: Array) -> Wired:
    kick = decay.kick(driver, model.dc_resistance.value, resistance, low, time)
    damping_factor = model.nominal.value / resistance if resistance else math.inf
    return Wired(words, resistance, damping_factor, decay.decay(model, resistance, low) or 0.0, kick)


def _woofers(branch: Branch) -> Iterator[int]:
    """Positions of the sections of kind low or full that sound, have driver data and no capacitor."""
    for at, (result, model) in enumerate(zip(branch.sections, branch.models, strict=True)):
        described = model.driver is not None and model.capacitor is None
        if result.kind in ("low", "full") and result.channel is not None and described:
            yield at
