"""Every plan there is for a failure of a small rig, found by trying all moves in all orders, apart from the program's planner.

The rig after each is judged by `assess` alone; what it is worth is calculated here from the sections' figures. Run on its own it
compares the planner with that on many rigs and prints every plan of the planner's that is worse:
`python -m engine_recovery.brute 2000` in the folder of the tests.
"""

import math
import random
import sys
import time
from collections.abc import Iterator
from typing import NamedTuple

from msgspec.structs import replace

import rigs
from rackwright.engine.assess import Assessed, assess
from rackwright.engine.channel import unsolved
from rackwright.engine.recovery import difference, fail, failed, recover, sequence
from rackwright.model.index import Index, pole_or_none
from rackwright.model.lines import Line, Spare
from rackwright.model.night import Rewiring
from rackwright.model.racks import Amplifier, Channel, Rack
from rackwright.model.rig import Rig
from rackwright.model.rules import check
from rackwright.units import Length, Trim

# --- rigs -----------------------------------------------------------------------------------------------

LOUD = replace(rigs.QUAD, id="loud", gain=rigs.Level.parse("38 dB"))
LOUD_DUO = replace(LOUD, id="loud-duo", channels=2)
WEAK = replace(
    rigs.DUO,
    id="weak",
    ratings=rigs.ratings(("8 ohm", "400 W"), ("4 ohm", "600 W")),
    gain=rigs.Level.parse("26 dB"),
)
EQUIPMENT = replace(rigs.EQUIPMENT, amplifiers=(*rigs.EQUIPMENT.amplifiers, LOUD, LOUD_DUO, WEAK))
FEEDS_OF = {"double": ("sub", "sub"), "woofer": ("sub",), "top": ("mid", "high"), "wedge": ("full",)}


def small(seed: int) -> tuple[Rig, list[str]]:
    """A rig of one or two racks and what fails in it, the same for the same number."""
    dice = random.Random(seed)
    while True:
        rig = _rig(dice)
        names = _failures(dice, rig)
        before = assess(rig)
        if any(finding.severity == "stop" for finding in before.findings):
            continue
        if any(s.channel for s in before.sections.values()):
            return rig, names


def _rig(dice: random.Random) -> Rig:
    racks, lines, cabinets = [], [], []
    number = 0
    for r in range(1 if dice.random() < 0.75 else 2):
        amplifiers = []
        for i in range(2 if dice.random() < 0.7 else 1 + (r == 0)):
            model = dice.choice(["duo", "duo", "stout", "weak", "loud-duo"])
            feed = dice.choice(["sub", "sub", "mid", "high"])
            feeds = [feed, dice.choice([feed, feed, "high" if feed == "mid" else "mid", ""])]
            trims = [dice.choice(["0 dB"] * 4 + ["-3 dB"]) for _ in (1, 2)]
            channels = tuple(Channel(feed=f, trim=Trim.parse(t)) for f, t in zip(feeds, trims, strict=True))
            mode = dice.choice(["dual"] * 6 + ["parallel", "bridged"])
            name = f"A{r}{i}"
            amplifiers.append(
                Amplifier(
                    id=name,
                    model=model,
                    unit=1 + 2 * i,
                    mode=mode,
                    channels=channels,
                    circuit=dice.choice(["P1", "P1", "P2"]),
                )
            )
        places = {
            f"{a.id}.{c + 1}": a.feed_of(c)
            for a in amplifiers
            for c in (0, 1)
            if a.pair_mode(0) != "bridged" or not c
        }
        sockets = []
        for _ in range(dice.randint(1, 2)):
            model = dice.choice(["double", "woofer", "top", "top"])
            cab = f"C{number}"
            side = dice.choice(["", "left", "right"]) if dice.random() < 0.5 else ""
            wiring = {"double": "split", "woofer": "first", "top": "straight"}[model]
            cabinets.append(
                replace(rigs.cabinet(cab, model, wiring), priority=dice.choice([None, 1, 2, 3]), side=side)
            )
            before = [x for x in cabinets[:-1] if x.model == model]
            linked = (
                before and dice.random() < 0.2 and not any(line.source == before[-1].id for line in lines)
            )
            if linked:
                lines.append(rigs.line(f"L{number}", before[-1].id, cab))
            else:
                poles = [_channel(dice, places, f) for f in FEEDS_OF[model]]
                crossed = len(poles) == 2 and dice.random() < 0.15
                sockets.append(rigs.socket(f"S{number}", *(poles[::-1] if crossed else poles)))
                line = rigs.line(f"L{number}", f"S{number}", cab, dice.choice(["5 m", "20 m"]))
                lines.append(replace(line, poles=(2, 1)) if crossed else line)
            number += 1
        if dice.random() < 0.4:
            sockets.append(rigs.socket(f"S{r}9", *[dice.choice(["", *places]) for _ in (1, 2)]))
        racks.append(Rack(id=f"R{r}", height=20, amplifiers=tuple(amplifiers), sockets=tuple(sockets)))
    spares = dice.choice(
        [
            (),
            (),
            (Spare(cable="4x2.5", length=Length.parse("20 m"), count=1),),
            (Spare(amplifier="duo", count=1),),
            (Spare(amplifier="loud", count=1),),
        ]
    )
    circuits = (rigs.CIRCUIT, replace(rigs.CIRCUIT, id="P2"))
    rig = rigs.rig(circuits=circuits, spares=spares, equipment=EQUIPMENT)
    rig = replace(rig, racks=tuple(racks), lines=tuple(lines), cabinets=tuple(cabinets))
    if dice.random() < 0.2:
        feeds = tuple(replace(f, substitute_for=("mid",)) if f.id == "full" else f for f in rig.feeds)
        rig = replace(rig, feeds=feeds)
    assert not check(rig), check(rig)
    return rig


def _channel(dice: random.Random, places: dict[str, str], feed: str) -> str:
    fitting = [name for name, has in places.items() if has == feed]
    if not fitting:
        return ""
    return ("-" if dice.random() < 0.1 else "") + dice.choice(fitting)


def _failures(dice: random.Random, rig: Rig) -> list[str]:
    used = sorted({pole_or_none(text).name for s in rig.sockets() for text in s.poles if text})
    names = [
        *used * 3,
        *(a.id for a in rig.amplifiers()),
        *(line.id for line in rig.lines),
        *(f"{line.id}/1" for line in rig.lines),
        *(s.id for s in rig.sockets()),
        *(f"{s.cabinet}.{s.section}=shorted" for s in Index(rig).sections.values()),
        "P1",
    ]
    return list(dict.fromkeys(dice.choice(names) for _ in range(dice.choice([1, 1, 2, 3]))))


# --- moves ----------------------------------------------------------------------------------------------


class Done(NamedTuple):
    """A rig after moves, and the racks gone to."""

    rig: Rig
    racks: frozenset[str]
    moves: tuple[str, ...]


def every_move(rig: Rig) -> Iterator[tuple[str, str, str, Rig]]:
    """Kind, rack, words and the rig after each move."""
    index = Index(rig)

    def with_rack(rack: Rack, **more: object) -> Rig:
        return replace(rig, racks=tuple(replace(r, **more) if r.id == rack.id else r for r in rig.racks))

    for rack in rig.racks:
        names = [
            f"{a.id}.{c + 1}"
            for a in rack.amplifiers
            for c in range(index.amplifier_models[a.model].channels)
        ]
        for s in rack.sockets:
            for pair in range(len(s.poles)) if index.lines_from.get(s.id) else ():
                was = pole_or_none(s.poles[pair])
                if was is None:
                    continue
                for name in [n for n in names if n != was.name] + [""]:
                    text = f"{'-' if was.sign < 0 and name else ''}{name}"
                    poles = tuple(text if i == pair else p for i, p in enumerate(s.poles))
                    changed = tuple(replace(o, poles=poles) if o is s else o for o in rack.sockets)
                    yield "repatch", rack.id, f"{s.id}/{pair + 1} -> {text}", with_rack(rack, sockets=changed)
            for line in index.lines_from.get(s.id, ()):
                for o in rack.sockets:
                    if o is not s and o.connector == s.connector and not index.lines_from.get(o.id):
                        moved = tuple(replace(x, source=o.id) if x is line else x for x in rig.lines)
                        yield "plug", rack.id, f"{line.id} -> {o.id}", replace(rig, lines=moved)
        for a in rack.amplifiers:
            model = index.amplifier_models[a.model]

            def with_amplifier(new: Amplifier, rack: Rack = rack, a: Amplifier = a) -> Rig:
                return with_rack(rack, amplifiers=tuple(new if x is a else x for x in rack.amplifiers))

            for c in range(len(a.channels)):
                for feed in rig.feeds:
                    if feed.id != a.channels[c].feed:
                        channels = tuple(
                            replace(x, feed=feed.id) if i == c else x for i, x in enumerate(a.channels)
                        )
                        yield (
                            "feed",
                            rack.id,
                            f"{a.id}.{c + 1} {feed.id}",
                            with_amplifier(replace(a, channels=channels)),
                        )
            for mode in ("dual", "parallel", "bridged"):
                if mode != a.pair_mode(0):
                    yield "mode", rack.id, f"{a.id} {mode}", with_amplifier(replace(a, mode=mode))
            dead = index.circuits[a.circuit].state == "failed"
            for circuit in rig.circuits if dead else ():
                if circuit.state == "ok":
                    yield (
                        "circuit",
                        rack.id,
                        f"{a.id} {circuit.id}",
                        with_amplifier(replace(a, circuit=circuit.id)),
                    )
            lame = a.state == "failed" or any(x.state == "failed" for x in a.channels)
            for spare in rig.spares if lame else ():
                if spare.amplifier and spare.count:
                    more = index.amplifier_models[spare.amplifier].channels
                    if more < model.channels:
                        continue
                    new = replace(a, model=spare.amplifier, state="ok", channels=tuple(replace(x, state="ok") for x in a.channels), mode=a.mode if more == 2 else (a.pair_mode(0),))  # fmt: skip
                    yield (
                        "amplifier",
                        rack.id,
                        f"{a.id} {spare.amplifier}",
                        replace(with_amplifier(new), spares=_less(rig, spare)),
                    )
    for cabinet in rig.cabinets:
        line = index.line_to.get(cabinet.id)
        root = index.root(cabinet.id)
        if line is None or root is None or cabinet.muted:
            continue
        rack = index.rack_of[root].id
        others = tuple(replace(x, muted=True) if x is cabinet else x for x in rig.cabinets)
        yield "unplug", rack, cabinet.id, replace(rig, cabinets=others)
        for spare in rig.spares:
            if not spare.cable or not spare.count:
                continue
            sources = [line.source] if spare.length.value >= line.length.value else []
            below = _behind(index, cabinet.id)
            sources += [
                o.id
                for o in rig.cabinets
                if o.id not in below
                and not index.lines_from.get(o.id)
                and (r := index.root(o.id))
                and index.rack_of[r].id == rack
                and not o.muted
                and index.cabinet_connector(o.id) is index.cabinet_connector(cabinet.id)
            ]
            for source in sources:
                new = Line(id="NEW", source=source, to=cabinet.id, cable=spare.cable, length=spare.length)
                lines = tuple(new if x is line else x for x in rig.lines)
                yield (
                    "line",
                    rack,
                    f"{cabinet.id} from {source}",
                    replace(rig, lines=lines, spares=_less(rig, spare)),
                )


def _less(rig: Rig, spare: Spare) -> tuple[Spare, ...]:
    return tuple(replace(s, count=s.count - 1) if s is spare else s for s in rig.spares)


def _behind(index: Index, cabinet: str) -> list[str]:
    return [cabinet, *(n for line in index.lines_from.get(cabinet, ()) for n in _behind(index, line.to))]


def every_plan(broken: Rig, depth: int, most: int = 10**9) -> Iterator[Done]:
    """What comes of up to so many moves, each rig once for each set of moves."""
    level = {frozenset(): Done(broken, frozenset(), ())}
    yield level[frozenset()]
    for _ in range(depth):
        following: dict[frozenset[str], Done] = {}
        for key, done in level.items():
            touched = {move.split(" ")[0] + move.split(" ")[1] for move in key}
            for kind, rack, words, rig in every_move(done.rig):
                if f"{kind}{words.split(' ')[0]}" in touched:
                    continue
                new = key | {f"{kind} {words}"}
                if new not in following:
                    following[new] = Done(
                        rig,
                        done.racks | {rack},
                        (*done.moves, f"{kind} {words}"),
                    )
                    yield following[new]
                    if len(following) > most:
                        return
        level = following


# --- what a plan is worth -------------------------------------------------------------------------------


def _rounded(figure: float, step: float) -> float:
    return math.floor(figure / step + 0.5 + 1e-6) * step


class Judge:
    """What a rig after moves is worth, from the figures of the assessments alone; None where it may not be."""

    def __init__(self, rig: Rig, broken: Rig) -> None:
        self.before = assess(rig)
        self.broken = assess(broken, self.before)
        self.sections = {n: s for n, s in self.before.sections.items() if s.channel}
        cabinets = rig.cabinets
        by = {c.id: c for c in cabinets}
        self.weight = {}
        for n, s in self.sections.items():
            c = by[s.cabinet]
            default = {"audience": 1, "fill": 2, "delay": 2, "monitor": 2}[c.role] + (
                0.5 if s.kind == "low" else 0
            )
            self.weight[n] = 2 ** (1 - (default if c.priority is None else c.priority))
        self.feed = {n: self.before.channels[s.channel].feed for n, s in self.sections.items()}
        self.side = {n: by[s.cabinet].side for n, s in self.sections.items()}
        self.stops = {}
        for f in self.broken.findings:
            if f.severity == "stop":
                self.stops[f.code, f.at] = max(f.excess, self.stops.get((f.code, f.at), f.excess))

    def silent(self, rig: Rig) -> float:
        """Weight of what is silent at least, by following the wiring without solving it."""
        index, heard = Index(rig), set[str]()
        for amplifier in rig.amplifiers():
            for channel in range(index.amplifier_models[amplifier.model].channels):
                branch, signs = unsolved(index, amplifier, channel)
                if branch.live:
                    heard |= {f"{cabinet}.{section}" for cabinet, section in signs}
        return round(sum(w for n, w in self.weight.items() if n not in heard), 6)

    def least(self, done: Done, beaten: tuple[float, ...] = ()) -> tuple[float, ...] | None:
        """Its figures, None where it may not be; no seconds are calculated where it is worse than what is beaten without them."""
        after = assess(done.rig, self.broken)
        for f in after.findings:
            if f.severity == "stop" and f.excess > self.stops.get((f.code, f.at), -math.inf) + 1e-3:
                return None
        gains: dict[str, float] = {}
        loss = 0.0
        channels: dict[str, list[float]] = {}
        for n, s in after.sections.items():
            if s.channel is None:
                if (
                    s.patched not in (None, self.broken.sections[n].patched)
                    and after.channels[s.patched].state == "failed"
                ):
                    return None
                if s.patched and n in self.sections and self._given_anew(after, s.patched, self.feed[n]):
                    return None
                continue
            if n not in self.sections:
                if self.broken.sections[n].channel is None:
                    return None
                continue
            feed, own = after.channels[s.channel].feed, self.feed[n]
            played = next(f for f in done.rig.feeds if f.id == feed)
            if feed != own and own not in played.substitute_for:
                return None
            if s.polarity != self.sections[n].polarity:
                return None
            gains[n] = s.gain - self.sections[n].gain
            channels.setdefault(s.channel, []).append(gains[n])
            loss = max(loss, 20 * math.log10(self.sections[n].voltage / s.voltage))
        silence = round(sum(w for n, w in self.weight.items() if n not in gains), 6)
        ways = [self._trimmed(after, gains, channels, least) for least in (True, False)]
        (tilt, change), trimmed = min(ways, key=lambda way: (way[0], len(way[1])))
        heard = silence, tilt, change, _rounded(loss, 1.0)
        if beaten and heard > beaten[:4]:
            return (*heard, math.inf)
        return (*heard, _rounded(self._seconds(done, after, trimmed), 5.0))

    def _trimmed(
        self, after: Assessed, gains: dict[str, float], channels: dict[str, list[float]], down: bool
    ) -> tuple[tuple[float, float], list[str]]:
        """Tilt and change with what is too loud trimmed down, or else with what makes either less; and who is trimmed for it."""
        index, steps = after.index, {}
        for name, changes in channels.items():
            at = index.channels[name]
            room = math.floor(-index.amplifiers[at.amplifier].channel(at.channel).trim.value / 0.5 + 1e-9)
            tries = [s for s in range(-48, room + 1) if max(changes) + 0.5 * s <= 0.5]
            steps[name] = min(
                tries, key=abs if down else lambda s, c=changes: max(abs(x + 0.5 * s) for x in c)
            )

        def with_steps(names: list[str]) -> dict[str, float]:
            at = after.sections
            return {
                n: g + (0.5 * steps[at[n].channel] if at[n].channel in names else 0.0)
                for n, g in gains.items()
            }

        most = _rounded(max(map(abs, with_steps([*steps]).values()), default=0.0), 1.0)
        needed = [n for n, c in channels.items() if max(c) > 0.5 or _rounded(max(map(abs, c)), 1.0) > most]
        changed = with_steps(needed)
        change = _rounded(max(map(abs, changed.values()), default=0.0), 1.0)
        return (self._tilt(changed), change), needed

    def _seconds(self, done: Done, after: Assessed, trimmed: list[str]) -> float:
        """What the list takes, by the one sequencer, whose seconds are the truth; the trims with a way to each rack not gone to."""
        broken = self.broken.index.rig
        moves = difference(broken, done.rig)
        swapped = {move.at for move in moves if move.kind == "amplifier"}
        for kind, at, *more in map(str.split, done.moves):
            if kind == "amplifier" and at not in swapped:  # by one of its own model, which is no difference
                old = self.broken.index.amplifiers[at].model
                moves = (*moves, Rewiring(kind="amplifier", at=at, old=old, new=more[0], by=more[0]))
        steps = sequence.steps(self.broken, after, moves, failed(broken))
        racks = {f"rack {after.index.rack_of[after.index.channels[n].amplifier].id}" for n in trimmed}
        ways = racks - {step.where for step in steps}
        return sequence.lasting(steps, done.rig) + 10 * len(trimmed) + 60 * len(ways)

    def _given_anew(self, after: Assessed, channel: str, own: str) -> bool:
        """Whether what hangs on a silent channel would play another programme if that came back by itself."""
        feed, was = after.channels[channel].feed, self.broken.channels.get(channel)
        return feed not in ("", own) and was is not None and feed != was.feed

    def _tilt(self, gains: dict[str, float]) -> float:
        worst = 0.0
        groups: dict[str, dict[str, list[float]]] = {}
        for n, side in self.side.items():
            if side:
                groups.setdefault(self.sections[n].kind, {}).setdefault(side, []).append(gains.get(n, -20.0))
        for sides in groups.values():
            if len(sides) == 2:
                left, right = (sum(x) / len(x) for x in (sides["left"], sides["right"]))
                worst = max(worst, abs(left - right))
        return _rounded(worst, 0.5)


def _in_vain(done: Done) -> bool:
    """Whether a move is at a channel, pair or amplifier on which nothing comes to hang: there is a quicker plan without it."""
    wired = {line.source for line in done.rig.lines}
    poles = [pole_or_none(text) for s in done.rig.sockets() if s.id in wired for text in s.poles]
    used = {pole.name for pole in poles if pole}
    for kind, at, *_ in map(str.split, done.moves):
        if kind == "feed" and used.isdisjoint({at, f"{at[:-1]}2"}):
            return True
        if kind in ("mode", "circuit", "amplifier") and used.isdisjoint({f"{at}.1", f"{at}.2"}):
            return True
    return False


def _unsearched(done: Done, broken: Assessed) -> bool:
    """Whether a spare line goes to what plays, or to what is re-patched in less time: the planner says that it looks for neither."""
    times = broken.index.rig.targets.times
    for kind, at, *_ in map(str.split, done.moves):
        silent = [s for s in broken.sections.values() if s.cabinet == at and s.channel is None]
        cut = any(s.patched is None for s in silent)
        if kind == "line" and not cut and len(silent) * times.repatch.value <= times.new_line.value:
            return True
    return False


def best(rig: Rig, names: list[str], depth: int) -> tuple[tuple[float, ...], Done]:
    broken = fail(rig, names)
    judge = Judge(rig, broken)
    found = None
    idle = judge.least(Done(broken, frozenset(), ()))
    for done in every_plan(broken, depth):
        if _in_vain(done) or _unsearched(done, judge.broken):
            continue
        if done.moves and judge.silent(done.rig) > min(found[0][0] if found else math.inf, idle[0] - 1e-6):
            continue
        value = judge.least(done, found[0] if found else ())
        brings = not done.moves or (
            value is not None and value[0] < idle[0]
        )  # what plays is not moved to even the sides
        if value is not None and brings and (found is None or value < found[0]):
            found = value, done
    assert found is not None
    return found


def main() -> None:
    count, start, depth = (
        int(sys.argv[i]) if len(sys.argv) > i else default for i, default in ((1, 50), (2, 0), (3, 2))
    )
    worse = better = 0
    spent = [0.0, 0.0]
    for seed in range(start, start + count):
        rig, names = small(seed)
        began = time.perf_counter()
        value, done = best(rig, names, depth)
        middle = time.perf_counter()
        plan = recover(rig, names).best
        spent[0] += middle - began
        spent[1] += time.perf_counter() - middle
        mine = tuple(plan.criteria[:5])
        if mine > value:
            worse += 1
            print(f"{seed} {'+'.join(names)}: {mine} where {value} by {'; '.join(done.moves)}", flush=True)
            print("     planned:", "; ".join(f"{m.kind} {m.at} {m.new}" for m in plan.moves), flush=True)
        better += mine < value
        if (seed - start + 1) % 50 == 0:
            print(f"{seed - start + 1} cases so far, {worse} worse, {better} better", flush=True)
    print(
        f"{count} cases, {worse} worse, {better} better than any {depth} moves; {spent[0]:.0f} s and {spent[1]:.0f} s"
    )


if __name__ == "__main__":
    main()
