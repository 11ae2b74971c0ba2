"""Lines to measure, made at random: a rig, what is wrong with it, how its things really are, and what a meter shows.

The independent circuit is `meter`'s. `study` asks the meter check about many and counts.
"""

import math
import statistics
from random import Random
from typing import NamedTuple

from engine_meter_check.meter import PER_METRE, Amiss, Nature, shown
from rackwright.engine.meter_check import Judgement, judge, pair_tests
from rackwright.model.index import Index
from rackwright.model.rig import Rig
from rackwright.store.rig_file import loads

SPREAD = 0.07
METER = (0.01, 0.1)
"""How far a DC resistance and a meter may be off: common practice, no source."""

EQUIPMENT = """
[[equipment.connectors]]
id = "plug"
pole_pairs = 2
contact_resistance = "2 mohm"
max_current = "30 A"
shrouded = true
"""
SECTIONS = ("low", "also", "high")
WIRINGS = ('[["low", "also"], ["high"]]', '[["low"], ["high"]]', '[["low"], ["also"]]')


def bench(random: Random, ambient: float | None = None) -> Rig:
    """A rack socket, one line of one or two pole pairs, one to four cabinets in a chain."""
    cores, count = random.choice([2, 4]), random.randint(1, 4)
    sections = "".join(
        f'[[equipment.loudspeakers.sections]]\nid = "{name}"\nkind = "{"high" if name == "high" else "low"}"\nnominal = "8 ohm"\n'
        f'dc_resistance = "{random.choice([3.0, 5.4, 6.4, 11.5])} ohm"\ncontinuous = "100 W"\nlowest = "50 Hz"\n'
        for name in SECTIONS
    )
    lines = "".join(
        f'[[lines]]\nid = "L{n}"\nfrom = "{f"C{n - 1}" if n > 1 else "S1"}"\nto = "C{n}"\ncable = "flex"\n'
        f'length = "{random.choice([2, 5, 10, 20, 50])} m"\n'
        for n in range(1, count + 1)
    )
    cabinets = "".join(f'[[cabinets]]\nid = "C{n + 1}"\nmodel = "box"\nwiring = "w"\n' for n in range(count))
    air = random.choice([20, 35]) if ambient is None else ambient
    return loads(
        f'format = 1\nname = "bench"\n[supply]\nambient = "{air} degC"\n'
        '[[racks]]\nid = "R1"\nheight = 4\n[[racks.sockets]]\nid = "S1"\nconnector = "plug"\n'
        f"{lines}{cabinets}{EQUIPMENT}"
        f'[[equipment.cables]]\nid = "flex"\ncores = {cores}\nsize = "{random.choice(sorted(PER_METRE))}"\nmax_current = "20 A"\n'
        f'[[equipment.loudspeakers]]\nid = "box"\nconnector = "plug"\n{sections}'
        f"[equipment.loudspeakers.wirings]\nw = {random.choice(WIRINGS)}\n"
    )


def pairs_of(rig: Rig) -> int:
    return rig.equipment.cables[0].cores // 2


def drivers_on(rig: Rig, pair: int) -> list[tuple[str, str]]:
    wiring = rig.equipment.loudspeakers[0].wirings["w"]
    return [(cabinet.id, name) for cabinet in rig.cabinets for name in wiring[pair - 1]]


def possible(random: Random, rig: Rig, pair: int) -> dict[str, list[Amiss]]:
    """Each kind of fault that this line can have, as it is listed, with some cases of it; nothing amiss among them."""
    chain, drivers = [line.id for line in rig.lines[1:]], drivers_on(rig, pair)
    worn = round(random.uniform(0.2, 5), 2)
    can = {
        "as expected": [Amiss()],
        "open": [Amiss(broken=True)],
        "near short": [Amiss(near_short=True)],
        "far short": [Amiss(far_short=True)],
        "short along it": [Amiss(crushed=("L1", share)) for share in (0.1, 0.5, 0.9)],
        "short behind": [Amiss(crushed=(link, share)) for link in chain for share in (0.1, 1.0)],
        "cabinets": [
            *(Amiss(unplugged=link) for link in chain),
            *(Amiss(extra_on=cabinet.id) for cabinet in rig.cabinets),
        ],
        "wrong pole pair": [Amiss(exchanged=(1, 2))] * (pairs_of(rig) == 2),
        "driver open": [Amiss(open_drivers=frozenset({driver})) for driver in drivers] * (len(drivers) > 1),
        "half section": [Amiss(changed=(driver, times)) for driver in drivers for times in (2.0, 0.5)],
        "bad contact": [Amiss(contact=(line, worn)) for line in ("L1", *chain)],
        "cable": [
            *(Amiss(size=size) for size in PER_METRE if size != rig.equipment.cables[0].size.text),
            *(Amiss(length=m) for m in (5.0, 15.0, 30.0, 50.0) if m != rig.lines[0].length.value),
        ],
    }
    if len(rig.cabinets) > 1 and len(drivers) > len(rig.cabinets):
        own = [frozenset(driver for driver in drivers if driver[0] == cabinet.id) for cabinet in rig.cabinets]
        can["driver open"] += [Amiss(open_drivers=gone) for gone in own]
    return {kind: cases for kind, cases in can.items() if cases}


def on_the_meter(random: Random, true: float) -> float:
    """What a meter shows of a resistance (Ω), anywhere within its tolerance.

    That is of the reading, as a meter's data sheet states it: reading · (1 ± 1 %) ± 0.1 Ω holds the true value.
    """
    sign = random.uniform(-0.99, 0.99)
    return true if math.isinf(true) else max(0.0, (true + sign * METER[1]) / (1 - sign * METER[0]))


def sections_of(rig: Rig) -> list[tuple[str, str]]:
    boxes = [cabinet.id for cabinet in rig.cabinets]
    return [(box, name) for box in (*boxes, *(f"{b} extra" for b in boxes)) for name in SECTIONS]


def within_tolerance(random: Random, rig: Rig) -> Nature:
    """Every driver anywhere within its tolerance, all else as the sheet says."""
    spread = {driver: random.uniform(1 - SPREAD, 1 + SPREAD) for driver in sections_of(rig)}
    return Nature(spread, rig.supply.ambient.value)


def as_in_life(random: Random, rig: Rig, coil: float) -> Nature:
    """Drivers spread about their data sheet, the tolerance being three standard deviations; coils within 3 K of what is
    stated, conductors up to 4 % under the standard's maximum, contacts of up to three times what is stated: all of it
    common practice, no source."""
    spread = {driver: random.gauss(1, SPREAD / 3) for driver in sections_of(rig)}
    return Nature(spread, coil + random.uniform(-3, 3), random.uniform(0.96, 1.0), random.uniform(1e-3, 6e-3))


def judged(rig: Rig, pair: int, ohms: float, coil: float | None = None) -> Judgement:
    index = Index(rig)
    test = next(test for test in pair_tests(index, coil) if test.id == f"L1/{pair}")
    return judge(index, test, ohms)


def kinds(judgement: Judgement) -> list[str]:
    return [explanation.kind for explanation in judgement.explanations]


class Counted(NamedTuple):
    """What became of many lines, half of them good and half with one fault."""

    faults: int
    listed: int
    """Faults whose kind is among the explanations."""
    ranks: tuple[int, ...]
    hidden: int
    """Faults on a line that reads as expected and is told of nothing else."""
    good: int
    rejected: int
    harmless: int
    """Good lines that read as expected and are told of another cable, or of a bad contact that no meter shows."""
    missed: tuple[str, ...]
    """The kinds of faults that are not listed."""

    @property
    def share_listed(self) -> float:
        return self.listed / self.faults

    @property
    def share_rejected(self) -> float:
        return self.rejected / self.good

    @property
    def median_rank(self) -> float:
        return statistics.median(self.ranks)

    def __str__(self) -> str:
        worst = {rank: self.ranks.count(rank) for rank in sorted({*self.ranks})}
        return (
            f"{self.faults} faults: {self.listed} listed ({self.share_listed:.2%}), median rank {self.median_rank:g}, "
            f"ranks {worst}, {self.hidden} hidden in tolerances; not listed: {', '.join(self.missed) or 'none'}\n"
            f"{self.good} good lines: {self.rejected} rejected ({self.share_rejected:.2%}), {self.harmless} with "
            f"harmless alternatives listed"
        )


def study(count: int, seed: int = 1) -> Counted:
    """Measure so many lines, every other one with a fault of a random kind, coils stated at −10 to 60 °C."""
    random = Random(seed)
    faults = listed = hidden = good = rejected = harmless = 0
    ranks: list[int] = []
    missed: list[str] = []
    for number in range(count):
        coil = random.uniform(-10, 60)
        rig = bench(random, round(random.uniform(-10, min(coil, 45)), 1))
        pair = random.randint(1, pairs_of(rig))
        can = possible(random, rig, pair)
        kind = random.choice([kind for kind in can if kind != "as expected"]) if number % 2 else "as expected"
        true = shown(rig, "L1", pair, random.choice(can[kind]), as_in_life(random, rig, coil))
        said = judged(rig, pair, on_the_meter(random, true), coil)
        if kind == "as expected":
            good += 1
            rejected += not said.as_expected
            told = {each.kind for each in said.listed} if said.as_expected else set()
            harmless += bool(told & {"cable", "bad contact"})
            continue
        faults += 1
        if kind not in kinds(said):
            missed.append(kind)
            continue
        listed += 1
        ranks.append(kinds(said).index(kind) + 1)
        hidden += said.as_expected and len(said.listed) == 1
    return Counted(faults, listed, tuple(ranks), hidden, good, rejected, harmless, tuple(missed))
