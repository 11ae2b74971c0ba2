"""What a mains cable carries without becoming too warm, by the tables of the standards, and whether its breaker protects it.

Holds the tables, each with its standard, the factors for air and laying, and which of them apply where the class of the
cable is not stated: then a range. Values are as printed by cable makers and distributors from the standards, or from
memory where it is said. Not what flows in a cable, nor what to do about it.
"""

import functools
from collections.abc import Mapping
from typing import Literal, NamedTuple, TypeAlias

from rackwright.engine.mains.breaker import Rules
from rackwright.units import ConductorSize, figure, gauge_area

CableClass: TypeAlias = Literal["", "cord", "60 degC", "90 degC", "fixed"]
"""What it is insulated for; not stated where empty."""
Laid: TypeAlias = Literal["", "free air", "grouped", "drum", "conduit", "clipped"]
Loaded: TypeAlias = Literal[2, 3]
"""Conductors that carry current: the earth never counts."""
Insulation: TypeAlias = Literal["60 degC", "90 degC", "fixed"]
Protection: TypeAlias = Literal["yes", "unroll", "between", "no"]
"""Whether a breaker protects a cable: once it is off the drum, by some of the tables that apply, or not at all."""


class Table(NamedTuple):
    """The capacity of one kind of cable: its size in mm² → A with two and with three loaded conductors, in air of 30 °C."""

    name: str
    cable: str
    insulation: Insulation
    entries: Mapping[float, tuple[float | None, float | None]]


def _both(entries: Mapping[float, float]) -> dict[float, tuple[float | None, float | None]]:
    return {size: (current, current) for size, current in entries.items()}


def _gauges(entries: Mapping[int, tuple[float, float]]) -> dict[float, tuple[float | None, float | None]]:
    return {gauge_area(gauge) * 1e6: currents for gauge, currents in entries.items()}


CORD = Table("BS 7671 Table 4F3A", "cord, 60 °C, in free air", "60 degC", {
    0.5: (3, 3), 0.75: (6, 6), 1.0: (10, 10), 1.25: (13, None), 1.5: (16, 16), 2.5: (25, 20), 4.0: (32, 25),
})  # fmt: skip
FLEXIBLE_60 = Table("BS 7671 Table 4F1A", "flexible cable, 60 °C, in free air", "60 degC", {
    4.0: (30, 26), 6.0: (39, 34), 10.0: (51, 47), 16.0: (73, 63), 25.0: (97, 83), 35.0: (None, 102), 50.0: (None, 124),
})  # fmt: skip
FLEXIBLE_90 = Table("BS 7671 Table 4F2A", "flexible cable, 90 °C, in free air", "90 degC", {
    4.0: (42, 37), 6.0: (55, 49), 10.0: (76, 66), 16.0: (103, 89), 25.0: (136, 119),
})  # fmt: skip
MULTICORE = Table("DIN VDE 0298-4 Table 11, from memory", "rubber or PVC multicore", "60 degC", _both({
    2.5: 26, 4.0: 34, 6.0: 44, 10.0: 61, 16.0: 82, 25.0: 108, 35.0: 135,
}))  # fmt: skip
FIXED_B2 = Table("IEC 60364-5-52, method B2", "fixed PVC cable in conduit, three loaded", "fixed", _both({
    1.5: 15, 2.5: 20, 4.0: 27, 6.0: 34, 10.0: 46, 16.0: 62, 25.0: 80,
}))  # fmt: skip
FIXED_C = Table("IEC 60364-5-52, method C", "fixed PVC cable, clipped, three loaded", "fixed", _both({
    1.5: 17, 2.5: 24, 4.0: 32, 6.0: 41, 10.0: 57, 16.0: 76, 25.0: 96,
}))  # fmt: skip
US_CORD = Table("NEC Table 400.5(A)(1), from memory", "cord, 60 °C", "60 degC", _gauges({
    14: (18, 15), 12: (25, 20), 10: (30, 25), 8: (40, 35), 6: (55, 45), 4: (70, 60), 2: (95, 80),
}))  # fmt: skip
US_FIXED = Table("NEC Table 310.16 with 240.4(D), from memory", "fixed cable, 60 °C", "60 degC", _gauges({
    14: (15, 15), 12: (20, 20), 10: (30, 30), 8: (40, 40), 6: (55, 55), 4: (70, 70), 2: (95, 95), 1: (110, 110),
}))  # fmt: skip

FLEXIBLE: Mapping[CableClass, tuple[Table, ...]] = {
    "cord": (CORD,),
    "60 degC": (FLEXIBLE_60, MULTICORE),
    "90 degC": (FLEXIBLE_90,),
    "": (CORD, FLEXIBLE_60, FLEXIBLE_90, MULTICORE),
}
FIXED: Mapping[Laid, tuple[Table, ...]] = {"conduit": (FIXED_B2,), "clipped": (FIXED_C,)}

TEMPERATURES: Mapping[Insulation, float] = {"60 degC": 60.0, "90 degC": 90.0, "fixed": 70.0}
"""°C of a conductor that carries what its table allows."""

REFERENCE_AIR = 30.0
"""°C of the air that the tables are for; cooler air is not counted."""
IN_AIR: Mapping[Insulation, Mapping[float, float]] = {
    "60 degC": {30: 1.0, 35: 0.91, 40: 0.82, 45: 0.71, 50: 0.58, 55: 0.41},
    "90 degC": {30: 1.0, 35: 0.96, 40: 0.91, 45: 0.87, 50: 0.82},
    "fixed": {30: 1.0, 35: 0.94, 40: 0.87, 45: 0.79, 50: 0.71},
}
"""Capacity in air of so many °C over that at 30 °C; between two entries on the line that joins them.

Sources: 60 °C, notes to BS 7671 Table 4F1A; 90 °C and fixed PVC, IEC 60364-5-52, from memory.
"""
ON_DRUM = {1: 0.85, 2: 0.65, 3: 0.45, 4: 0.35}
"""Layers on a drum → share of the capacity. Source: notes to BS 7671 Table 4F1A."""
GROUPED = {1: 1.0, 2: 0.80, 3: 0.70, 4: 0.65, 5: 0.60, 6: 0.57}
"""Cables touching → share of the capacity. Source: IEC 60364-5-52, from memory."""
UNSTATED = 3
"""Layers on a drum, or cables grouped, where their number is not stated. Common practice, no source."""


class Laying(NamedTuple):
    """How a cable is made and laid, as far as it is stated."""

    cable_class: CableClass = ""
    laid: Laid = ""
    grouped: int | None = None
    layers: int | None = None


class Factor(NamedTuple):
    """What a capacity is multiplied by, and why."""

    words: str
    value: float
    source: str


class Rating(NamedTuple):
    """What one table says of a cable."""

    source: str
    cable: str
    base: float
    """A, of the table in air of 30 °C, off the drum."""
    factors: tuple[Factor, ...]

    @property
    def value(self) -> float:
        """A, with all factors but the drum's."""
        product = self.base
        for factor in self.factors:
            product *= factor.value
        return product


class Capacity(NamedTuple):
    """What a cable carries: one value, or a range where more than one table may apply."""

    ratings: tuple[Rating, ...]
    """By rising value; none where its size is outside every table that applies, or its laying outside the factors."""
    drum: Factor | None
    """Where it is on one."""
    missing: str
    """Why there is no rating."""

    @property
    def unrolled(self) -> tuple[float, float]:
        """A off the drum, by the lowest and the highest table that applies."""
        return self.ratings[0].value, self.ratings[-1].value

    @property
    def lowest(self) -> float:
        """A as it is laid, by the lowest table that applies."""
        return self.unrolled[0] * (self.drum.value if self.drum else 1.0)

    @property
    def highest(self) -> float:
        """A as it is laid, by the highest table that applies."""
        return self.unrolled[1] * (self.drum.value if self.drum else 1.0)

    def protected_by(self, breaker: float, current: float) -> Protection:
        """Whether a breaker (A) at its near end protects it, `current` (A) being what it carries at programme.

        On a drum it may take less than its breaker lets through as long as it takes what flows.
        """
        low, high = self.unrolled
        if breaker > high or (self.drum and breaker > self.highest and current > self.highest):
            return "no"
        if breaker > low:
            return "between"
        return "unroll" if breaker > self.lowest else "yes"


@functools.lru_cache(maxsize=1024)
def capacity(
    size: ConductorSize,
    laying: Laying,
    loaded: Loaded,
    air: float,
    rules: Rules,
    max_current: float | None = None,
) -> Capacity:
    """What a mains cable carries in air of `air` °C, by the tables that may apply [1]_, each capacity times its factors.

    A size between two entries of a table counts as the smaller. `max_current` (A), the cable's own as it is laid, goes
    before the tables and their factors.

    >>> found = capacity(ConductorSize.parse("2.5 mm2"), Laying("cord", "drum", layers=3), 2, 30.0, "iec")
    >>> found.ratings[0].source, found.ratings[0].value, found.highest
    ('BS 7671 Table 4F3A', 25, 11.25)

    .. [1] BS 7671 Tables 4F1A to 4F3A and their notes; DIN VDE 0298-4; IEC 60364-5-52; NEC; each where its table says so,
       those marked from memory.
    """
    if max_current is not None:
        return Capacity((Rating("from the rig file", "the cable's own", max_current, ()),), None, "")
    factors, drum, missing = _laid(laying)
    if missing:
        return Capacity((), drum, missing)
    which = tables(laying, rules)
    ratings = []
    for table in which:
        base, in_air = _entry(table, size, loaded), _air(table.insulation, air)
        if base is not None and in_air is not None:
            ratings.append(Rating(table.name, table.cable, base, (*in_air, *factors)))
    if not ratings:
        hot = all(_air(table.insulation, air) is None for table in which)
        missing = (
            f"air of {figure(air)} °C"
            if hot
            else f"{size} with {'two' if loaded == 2 else 'three'} loaded conductors"
        )
    return Capacity(tuple(sorted(ratings, key=lambda rating: rating.value)), drum, missing)


def tables(laying: Laying, rules: Rules) -> tuple[Table, ...]:
    """Those that may apply: in conduit or clipped those of fixed cable, a flexible one's own beside them."""
    fixed = (US_FIXED,) if rules == "us" else FIXED.get(laying.laid, (FIXED_B2, FIXED_C))
    if laying.cable_class == "fixed":
        return fixed
    flexible = (US_CORD,) if rules == "us" else FLEXIBLE[laying.cable_class]
    if laying.laid not in FIXED:
        return flexible
    return (*flexible, *fixed) if laying.cable_class else fixed


def conductor_temperature(laying: Laying) -> float:
    """°C of the conductor when it carries its capacity, by definition of its class; the warmest there may be where none is stated.

    >>> conductor_temperature(Laying("60 degC", "free air", None, None))
    60.0
    """
    return max(TEMPERATURES[table.insulation] for table in tables(laying, "iec"))


def _entry(table: Table, size: ConductorSize, loaded: Loaded) -> float | None:
    """A, of the size or the next smaller one; None outside the table."""
    area = size.value * 1e6 * 1.001  # a gauge is found by its own area, whatever rounding does
    column = {
        entry: current for entry, each in table.entries.items() if (current := each[loaded - 2]) is not None
    }
    if area > max(column) * 1.002:
        return None
    return max(((entry, current) for entry, current in column.items() if entry <= area), default=(0.0, None))[
        1
    ]


def _air(insulation: Insulation, air: float) -> tuple[Factor, ...] | None:
    """The factor for the air, none where it is no warmer than the table's; None where it is warmer than any entry."""
    if air <= REFERENCE_AIR:
        return ()
    entries = IN_AIR[insulation]
    if air > max(entries):
        return None
    above = min(entry for entry in entries if entry >= air)
    below = max(entry for entry in entries if entry < air)
    value = entries[below] + (entries[above] - entries[below]) * (air - below) / (above - below)
    source = "notes to BS 7671 Table 4F1A" if insulation == "60 degC" else "IEC 60364-5-52, from memory"
    return (Factor(f"air of {figure(air)} °C", value, source),)


def _laid(laying: Laying) -> tuple[tuple[Factor, ...], Factor | None, str]:
    """The factor for cables beside it, that of a drum, and what no table holds."""
    if laying.laid == "grouped":
        count = laying.grouped or UNSTATED
        if count not in GROUPED:
            return (), None, f"{count} cables grouped"
        return (Factor(f"{count} cables grouped", GROUPED[count], "IEC 60364-5-52, from memory"),), None, ""
    if laying.laid == "drum":
        layers = laying.layers or UNSTATED
        words = f"{layers} layers on a drum" if layers > 1 else "one layer on a drum"
        if layers not in ON_DRUM:
            return (), None, words
        return (), Factor(words, ON_DRUM[layers], "notes to BS 7671 Table 4F1A"), ""
    return (), None, ""
