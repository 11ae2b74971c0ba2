"""Every arrangement of a small random rig, assessed one by one, and which of them is best: apart from the program's own search.

Holds the order that arrangements are compared in, worked out here from what `check` reports.
"""

import itertools
import random
from typing import Any

from msgspec.structs import replace

from rackwright.engine import limits
from rackwright.engine.assess import Assessed, assess
from rackwright.model import edits
from rackwright.model.equipment import Equipment
from rackwright.model.mains import PHASES, Board, Circuit, SupplyCable
from rackwright.model.rig import Rig
from rackwright.units import ApparentPower, ConductorSize, Current, Length

from .rigs import EQUIPMENT, amplifier, rig

GRAVE = {"stop": 3, "warn": 2, "note": 1}
CODES = (
     "circuit-failed", "circuit-empty", "feed-drop",
    "amplifier-without-circuit", "phases-uneven", "generator-overloaded", "generator-near-limit",
    "supply-voltage-low", "neutral-overloaded",
)  # fmt: skip
GENERATOR = ("generator-overloaded", "generator-near-limit")


def random_rig(seed: int, amplifiers: int = 4, circuits: int = 3, equipment: Equipment = EQUIPMENT) -> Rig:
    """Up to so many amplifiers on up to so many circuits, of which some are dead, thin, on a generator or out of reach."""
    of = random.Random(seed)
    boards = (
        (Board(id="D1", rating=Current.parse(of.choice(["4 A", "6 A", "10 A"]))),)
        if of.random() < 0.3
        else ()
    )
    cables = (None, None, SupplyCable(length=Length.parse("60 m"), size=ConductorSize.parse("1.5 mm2")))
    made = tuple(
        Circuit(
            id=f"P{n}",
            phase=of.choice(PHASES),
            breaker=Current.parse(of.choice(["4 A", "6 A", "10 A", "16 A"])),
            curve=of.choice(["B", "C", "D"]),
            supply_cable=of.choice(cables),
            state="failed" if n and of.random() < 0.2 else "ok",
            board="D1" if boards and of.random() < 0.6 else "",
        )
        for n in range(of.randint(1, circuits))
    )
    names = [circuit.id for circuit in made]
    hung = [
        amplifier(
            f"A{n}",
            of.choice([*names, names[0], ""]),
            of.choice(["kilo", "small", "corrected"]),
            reaches=tuple(of.sample(names, of.randint(1, len(names)))) if of.random() < 0.2 else (),
        )
        for n in range(of.randint(1, amplifiers))
    ]
    supply: dict[str, Any] = {"rules": of.choice(["iec", "iec", "us"])}
    if of.random() < 0.3:
        supply["generator"] = ApparentPower.parse(of.choice(["1500 VA", "4 kVA"]))
    if of.random() < 0.2:
        supply["rating"] = Current.parse(of.choice(["4 A", "6 A", "10 A"]))
    return replace(rig(made, *hung, equipment=equipment, **supply), boards=boards)


def findings(assessed: Assessed) -> dict[tuple[str, str], int]:
    """How grave what is found on the mains is, by what it is about and where; the neutral's share of evening is left out.

    Of a loading or an inrush what it is, whether `check` reports it there or at a cause below it.
    """
    rules = assessed.index.rig.supply.rules
    told: dict[tuple[str, str], int] = {}
    for f in assessed.findings:
        if f.code in CODES:
            code = GENERATOR[0] if f.code in GENERATOR else f.code
            told[code, f.at] = max(told.get((code, f.at), 0), GRAVE[f.severity])
    for point in points(assessed):
        hard = point.loading_heavy
        sure = hard > 1.45 if rules == "iec" else hard >= 1.35
        warned = point.loading > limits.loading_near(rules).value or sure
        stop = point.loading > limits.loading_stop(rules).value
        if grave := 3 if stop else 2 if warned else int(hard > 1):
            told["loading", getattr(point, "id", "supply")] = grave
        if past_the_band(point):
            told["inrush", getattr(point, "id", "supply")] = (
                2 if point.known_inrush > point.inrush_limit else 1
            )
    return told


def added(before: Assessed, after: Assessed) -> list[int]:
    """How grave each finding is that is there only afterwards, or is graver then."""
    was = findings(before)
    return [grave for key, grave in findings(after).items() if was.get(key, 0) < grave]


def past_the_band(point: Any) -> float:
    """A rms of inrush past where its device may trip at once; under US rules there is no band."""
    return max(0.0, point.inrush - point.inrush_limit) if point.inrush_limit else 0.0


def points(assessed: Assessed) -> list[Any]:
    """Whatever has a loading: circuits, boards, the intake."""
    every = (*assessed.circuits.values(), *assessed.boards.values(), assessed.supply)
    return [point for point in every if point.loading is not None]


def generator_loading(assessed: Assessed, duty: str) -> float:
    """By its kVA or its kW, whichever is more."""
    return max(getattr(assessed.supply, f"generator{kind}_loading{duty}") or 0.0 for kind in ("", "_real"))


def allowed(before: Assessed, after: Assessed) -> bool:
    """Whether each finding added is less grave than one fixed, and nothing gets further past a stop."""
    stop = limits.loading_stop(before.index.rig.supply.rules).value
    held = all(
        now.loading <= max(stop, was.loading) + 1e-9
        for was, now in zip(points(before), points(after), strict=True)
    )
    generated, today = (generator_loading(each, "") for each in (after, before))
    fixed = max(added(after, before), default=0)
    new = max(added(before, after), default=0)
    return (not new or new < fixed) and held and generated <= max(1, today) + 1e-9


def worth(before: Assessed, after: Assessed, unplaced: int, moves: int) -> tuple[float, ...]:
    """In the order that it is compared in, each excess over what `check` judges by."""
    rules, supply = before.index.rig.supply.rules, after.supply
    stop, near, drop = (
        limits.loading_stop(rules).value,
        limits.loading_near(rules).value,
        limits.drop(before.index.rig.supply).value,
    )
    live = [c for c in after.circuits.values() if c.live]

    def past(figure: float | None, limit: float) -> float:
        return max(0.0, (figure or 0.0) - limit)

    mean = sum(c.programme_current for c in live) / 3
    even = limits.imbalance(mean, max(c.breaker for c in live)).value if mean else 1.0
    new = added(before, after)
    figures = (
        unplaced,
        sum(past(c.loading, stop) for c in points(after)) + past(generator_loading(after, ""), 1.0),
        new.count(2),
        sum(past(c.loading, near) for c in points(after)),
        sum(past(c.loading_heavy, 1.0) for c in points(after)),
        max(past(generator_loading(after, ""), 0.8), past(generator_loading(after, "_heavy"), 1.0)),
        sum(past(c.drop, drop) for c in live),
        sum(
            max(
                [
                    f.figure - f.limit.value
                    for f in after.findings
                    if f.code == "supply-voltage-low" and f.at == c.id
                ],
                default=0,
            )
            for c in live
        ),
        past(supply.imbalance, even),
        sum(map(past_the_band, points(after))),
        sum(past(c.drop_heavy, drop) for c in live),
        new.count(1),
        moves,
        max(c.loading for c in live),
        supply.imbalance or 0.0,
    )
    return tuple(round(figure, 5) for figure in figures)


def best(rig_: Rig) -> tuple[float, ...]:
    """The least worth of all arrangements that are allowed."""
    before = assess(rig_)
    live = [name for name, circuit in before.circuits.items() if circuit.live]
    options = []
    for each in rig_.amplifiers():
        home = each.circuit if each.circuit in live else ""
        reached = [c for c in live if not each.reaches or c in each.reaches or c == home]
        options.append([*reached] if home else ["", *reached])
    found = []
    for places in itertools.product(*options):
        moved, moves, now = rig_, 0, before
        for each, at in zip(rig_.amplifiers(), places, strict=True):
            if at and at != each.circuit:
                moved, moves = edits.change(moved, each.id, circuit=at), moves + 1
        now = assess(moved, before)
        if allowed(before, now):
            found.append(worth(before, now, places.count(""), moves))
    return min(found)
