"""Small rigs in which things fail, drawn by hypothesis, and every plan for them judged apart from the program.

The search here tries all moves in all orders and judges each rig that results by `assess` alone: what it is worth
is reckoned here from the sections' figures.
"""

import math
import re
from typing import NamedTuple

from hypothesis import strategies as st
from hypothesis.strategies import DrawFn
from msgspec.structs import replace

import rigs
from rackwright.engine.assess import Assessed, assess
from rackwright.engine.recovery import apply, possible_moves
from rackwright.engine.recovery.state import State, Task
from rackwright.model.rig import Rig, Spare
from rackwright.model.rules import check
from rackwright.units import Length

FEEDS_OF = {"double": ("sub", "sub"), "woofer": ("sub", "sub"), "top": ("mid", "high"), "wedge": ("full",)}
"""What each pole pair of a cabinet is meant to play."""

LINK = Spare(cable="4x2.5", length=Length.parse("5 m"), count=1)
SPARE_DUO = Spare(amplifier="duo", count=1)
SPARE_QUAD = Spare(amplifier="quad", count=1)


SPARES = [(), (LINK,), (SPARE_DUO,), (SPARE_QUAD,)]


@st.composite
def rigs_to_break(draw: DrawFn, cabinets: int = 3) -> Rig:
    """One rack of two or three amplifiers and up to `cabinets` cabinets, each pole pair on a channel of its feed."""
    models = [draw(st.sampled_from(["duo", "stout", "quad"])) for _ in range(draw(st.integers(2, 3)))]
    feeds: dict[str, str] = {
        f"A{i}.{c}": draw(st.sampled_from(["sub", "sub", "mid", "high", "full", ""]))
        for i in range(len(models))
        for c in (1, 2)
    }
    things = []
    for i, model in enumerate(models):
        mode = draw(st.sampled_from(["dual"] * 5 + ["bridged", "parallel"]))
        of = [feeds[f"A{i}.1"], feeds[f"A{i}.2"]]
        things.append(rigs.amplifier(f"A{i}", *of, model=model, unit=1 + 2 * i, mode=mode))
    cabs: list[str] = []
    for i in range(draw(st.integers(1, cabinets))):
        model = draw(st.sampled_from(["double", "woofer", "top"]))
        things.append(replace(rigs.cabinet(f"C{i}", model), priority=draw(st.integers(1, 3))))
        if cabs and draw(st.integers(0, 3)) == 0:
            things.append(rigs.line(f"L{i}", draw(st.sampled_from(cabs)), f"C{i}"))
        else:
            poles = [_channel(draw, feeds, feed) for feed in FEEDS_OF[model]]
            things.append(rigs.socket(f"S{i}", *poles))
            things.append(rigs.line(f"L{i}", f"S{i}", f"C{i}", draw(st.sampled_from(["5 m", "20 m"]))))
        cabs.append(f"C{i}")
    if draw(st.booleans()):
        things.append(rigs.socket("S9", *[_channel(draw, feeds, "sub") for _ in (1, 2)]))
    circuits = (rigs.CIRCUIT, replace(rigs.CIRCUIT, id="P2"))
    rig = rigs.rig(*things, circuits=circuits, spares=draw(st.sampled_from(SPARES)))
    assert not check(rig)
    return rig


def _channel(draw: DrawFn, feeds: dict[str, str], feed: str) -> str:
    """A channel of that feed where there is one, mostly."""
    fitting = [name for name, has in feeds.items() if has == feed]
    return draw(st.sampled_from(fitting * 4 + [""] if fitting else sorted(feeds)))


@st.composite
def failures(draw: DrawFn, rig: Rig) -> list[str]:
    """A channel, an amplifier or the circuit."""
    names = [f"{a.id}.{c}" for a in rig.amplifiers() for c in (1, 2)]
    driving = sorted({pole for socket in rig.sockets() for pole in socket.poles if pole})
    return [draw(st.sampled_from([*driving * 3, *names, *(a.id for a in rig.amplifiers()), "P1"]))]


class Worth(NamedTuple):
    """What a plan is worth, less being better."""

    silent: float
    loss: float
    moves: int
    warns: int


def worth(task: Task, after: Assessed, moves: int) -> Worth | None:
    """Reckoned from the assessments alone; None where there is a stop that the broken rig hadn't, or a graver one."""
    stops = {(f.code, f.at): f for f in task.broken.findings if f.severity == "stop"}
    for finding in after.findings:
        if finding.severity == "stop" and (
            (finding.code, finding.at) not in stops or _graver(finding, stops[finding.code, finding.at])
        ):
            return None
    silent = loss = 0.0
    for name, before in task.before.sections.items():
        if before.channel is None:
            continue
        now = after.sections[name]
        weight = 0.5 ** (task.before.index.cabinets[before.cabinet].priority - 1)
        lost = _lost(task, after, name)
        silent += weight * lost
        if lost < 1:
            loss = max(loss, 20 * math.log10(before.voltage / now.voltage))
    known = {(f.code, f.at) for of in (task.before, task.broken) for f in of.findings if f.severity == "warn"}
    warns = {(f.code, f.at) for f in after.findings if f.severity == "warn"} - known
    return Worth(silent, round(math.floor(loss * 10 + 0.5) / 10, 1), moves, len(warns))


def _graver(now, was) -> bool:
    """The first figure with a unit says how grave: a lower load or band is graver, of anything else a higher figure."""
    figures = [re.search(r"([\d.]+) (?:Ω|k?Hz|A|V|VA)\b", finding.message) for finding in (now, was)]
    if not all(figures):
        return False
    after, before = (float(found[1]) for found in figures)
    return after < before if now.code in ("load-below-minimum", "band-too-low") else after > before


def _lost(task: Task, after: Assessed, name: str) -> float:
    """1 for silence or a feed of no use, a half for one that plays at least half of its octaves, else 0."""
    now = after.sections[name]
    if now.channel is None:
        return 1.0
    own = task.before.channels[task.before.sections[name].channel].feed
    feed = after.channels[now.channel].feed
    if feed == own:
        return 0.0
    (low, high), (start, end) = (
        [f.value for f in task.before.index.feeds[each].band] for each in (own, feed)
    )
    section = after.index.loudspeaker_models[after.index.cabinets[now.cabinet].model].section(now.section)
    too_low = section.kind in ("mid", "high") and start < section.lowest.value
    misses = end <= section.lowest.value or (section.highest is not None and start >= section.highest.value)
    shared = math.log2(min(high, end) / max(low, start)) / math.log2(high / low)
    return 0.5 if shared >= 0.5 and not too_low and not misses else 1.0


def every_plan(task: Task, depth: int) -> list[tuple[Worth, State]]:
    """All that can be done in `depth` moves or fewer, each rig assessed."""
    found, level, seen = [], [task.origin], {task.origin.key}
    for moved in range(depth + 1):
        for state in level:
            after = assess(apply(task.index.rig, state.moves), task.broken)
            value = worth(task, after, moved)
            if value is not None:
                found.append((value, state))
        following = []
        for state in level if moved < depth else []:
            for move in possible_moves.every(state):
                key = state.key | {move.key}
                if key not in seen:
                    seen.add(key)
                    following.append(state.after(move))
        level = following
    return found
