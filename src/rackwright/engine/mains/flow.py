"""What flows in a point of the mains tree, phase by phase, what of that the neutral carries, and what cables take off the voltage.

Currents are phasors along each phase's own voltage: what hangs between a phase and neutral stands at 0°, what hangs line to
line at +30° and −30° on its two phases. Which circuits meet in a point is for `tree`.
"""

import cmath
import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple, TypeAlias

from rackwright.model.mains import PHASES, Phase

CORRECTED = 0.9
"""Power factor from which a power supply counts as power-factor corrected: common practice, no source."""

Three: TypeAlias = tuple[float, float, float]
_AT = {phase: number for number, phase in enumerate(PHASES)}
_AHEAD, _BEHIND = cmath.rect(1, math.radians(30)), cmath.rect(1, math.radians(-30))
_THREE_PHASE = (1 + 0j, cmath.rect(1, math.radians(-120)), cmath.rect(1, math.radians(120)))
_SPLIT = (1 + 0j, -1 + 0j, 0j)


def directions(split: bool) -> tuple[complex, complex, complex]:
    """The voltage of each phase as a unit vector: 120° apart, or with split phase 180°, by definition.

    >>> abs(sum(directions(False))) < 1e-12, sum(directions(True))
    (True, 0j)
    """
    return _SPLIT if split else _THREE_PHASE


def volts_across(phases: int, split: bool) -> float:
    """Volt-amperes over volts to neutral and amperes in each of so many phases: 1; line to line √3, split phase 2; 3.

    By definition of the voltages, which are 120° or 180° apart.

    >>> volts_across(1, False), round(volts_across(2, False), 3), volts_across(2, True), volts_across(3, False)
    (1.0, 1.732, 2.0, 3.0)
    """
    return 1.0 if phases == 1 else 3.0 if phases == 3 else 2.0 if split else math.sqrt(3)


class Flow(NamedTuple):
    """The currents in the three phases at one duty, in A."""

    corrected: Three
    """To neutral, of what is corrected or resistive."""
    uncorrected: Three
    """To neutral, in pulses."""
    across: tuple[complex, complex, complex]
    """Of what hangs line to line, along each phase's own voltage."""

    @property
    def to_neutral(self) -> Three:
        """What returns in the neutral."""
        c, u = self.corrected, self.uncorrected
        return c[0] + u[0], c[1] + u[1], c[2] + u[2]

    @property
    def lines(self) -> Three:
        """The current of each phase."""
        t, x = self.to_neutral, self.across
        return abs(t[0] + x[0]), abs(t[1] + x[1]), abs(t[2] + x[2])

    def neutral(self, split: bool) -> float:
        """Neutral current, at most; what hangs line to line adds nothing."""
        if split:
            c, u = self.corrected, self.uncorrected
            return abs(c[0] - c[1]) + abs(u[0] - u[1])
        return neutral_current(self.corrected, self.uncorrected)


def flowing(parts: Iterable[tuple[float, float, Sequence[Phase]]], split: bool) -> Flow:
    """What circuits take together.

    Of each: its current (A) in each of its phases, what of that comes in pulses, and the phases. Those between two phases
    stand 30° before and behind the voltages to neutral [1]_.

    >>> flowing([(10.0, 0.0, ("L1",)), (8.0, 8.0, ("L2",))], False).to_neutral
    (10.0, 8.0, 0.0)

    .. [1] Kirchhoff's current law, with phasors.
    """
    smooth, pulsed, across = [0.0, 0.0, 0.0], [0.0, 0.0, 0.0], [0j, 0j, 0j]
    for current, uncorrected, phases in parts:
        if len(phases) == 2:
            on = [_AT[phase] for phase in phases]
            first, second = on if split or (on[1] - on[0]) % 3 == 1 else (on[1], on[0])
            across[first] += current * (1 if split else _AHEAD)
            across[second] += current * (1 if split else _BEHIND)
            continue
        for phase in phases:
            k = _AT[phase]
            smooth[k] += current - uncorrected
            pulsed[k] += uncorrected
    return Flow(
        (smooth[0], smooth[1], smooth[2]),
        (pulsed[0], pulsed[1], pulsed[2]),
        (across[0], across[1], across[2]),
    )


# --- neutral and imbalance ----------------------------------------------------------------------------


def imbalance(currents: Sequence[float]) -> float:
    """Largest deviation of a phase from the mean of all, over the mean [1]_; 0 where nothing flows.

    >>> imbalance([12.0, 9.0, 9.0])
    0.2

    .. [1] NEMA MG 1 defines the unbalance of voltages so, from memory.
    """
    mean = sum(currents) / len(currents)
    return max(abs(current - mean) for current in currents) / mean if mean > 0 else 0.0


def vector_sum(first: float, second: float, third: float) -> float:
    """|I1 + I2∠−120° + I3∠120°| in A: three phase currents (A) at one angle to their voltages, which lie 120° apart [1]_.

    >>> vector_sum(10.0, 10.0, 10.0), vector_sum(10.0, 0.0, 0.0)
    (0.0, 10.0)

    .. [1] Kirchhoff's current law, with phasors.
    """
    along, across = first - (second + third) / 2, math.sqrt(3) / 2 * (third - second)
    size = math.hypot(along, across)
    return size if size > 1e-9 * max(first, second, third) else 0.0  # less is what rounding leaves


def neutral_current(corrected: Sequence[float], uncorrected: Sequence[float]) -> float:
    """Neutral current in A, at most, of the corrected and the uncorrected loads' currents (A) on three phases.

    min(√ΣT², |vector sum of C| + √ΣU²), T = C + U. C flows at one angle to its voltage; U comes in pulses about the
    voltage's peaks, which meet those of another phase with the other sign or not at all, so that mean squares add
    up at most. It is the whole, not an addition. Common practice, no source; the tests hold it against pulses.

    >>> round(neutral_current([0.0] * 3, [10.0] * 3), 2), neutral_current([10.0] * 3, [0.0] * 3)
    (17.32, 0.0)
    """
    whole = math.hypot(*[c + u for c, u in zip(corrected, uncorrected, strict=True)])
    return min(whole, vector_sum(*corrected) + math.hypot(*uncorrected))


# --- drop ---------------------------------------------------------------------------------------------


class Fall(NamedTuple):
    """What the conductors from the origin to a point take off the voltage, in V, all in one frame."""

    lines: tuple[complex, complex, complex] = (0j, 0j, 0j)
    neutral: complex = 0j

    def through(self, resistance: float, flow: Flow, split: bool) -> "Fall":
        """Behind one cable more, whose conductors have that resistance (Ω) one way."""
        u, t = directions(split), flow.to_neutral
        lines = [self.lines[k] + resistance * u[k] * (t[k] + flow.across[k]) for k in range(3)]
        back = self.neutral + resistance * sum([u[k] * t[k] for k in range(3)])
        return Fall((lines[0], lines[1], lines[2]), back)

    def drop(self, phases: Sequence[Phase], voltage: float, split: bool) -> float:
        """% of the voltage that it takes along that: of `voltage` (V) to neutral, line to line of that between the two."""
        u, on = directions(split), [_AT[phase] for phase in phases]
        if len(on) == 2:
            a, b = on
            between = u[a] - u[b]
            along = ((self.lines[a] - self.lines[b]) * between.conjugate()).real / abs(between) ** 2
            return 100 * along / voltage
        return max([100 * ((self.lines[k] + self.neutral) * u[k].conjugate()).real / voltage for k in on])
