"""How loud what is patched comes back: trims, the change of each section, left against right, the loss of maximum level."""

import functools
import math
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator

from rackwright.engine import amplifier as source
from rackwright.engine.allocation.program import SLACK, Program, Solved, Terms
from rackwright.engine.recovery import criteria
from rackwright.engine.recovery.choices.channels import lowest_load
from rackwright.engine.recovery.choices.columns import Pair, Use
from rackwright.engine.recovery.choices.kept import kept
from rackwright.engine.recovery.choices.patching import Patching
from rackwright.engine.recovery.choices.worth import needed
from rackwright.engine.recovery.task import HEARD, SILENT, TRIM
from rackwright.engine.results import SectionResult
from rackwright.model.night import Rewiring
from rackwright.units import Trim

DEEPEST = 48
"""Steps down that a trim may go."""
BIG = 100.0
"""dB, more than any tilt."""
FEW = 4
"""Pole pairs that are not counted first: the whole programme is solved as soon."""
SEEN = 0.24
"""dB of mismatch from which a trim is thought of: less rounds to nothing."""


class Level:
    """Gains and levels in a programme."""

    def __init__(self, patching: Patching) -> None:
        self.patching, self.channels, self.columns = patching, patching.channels, patching.columns
        self.task, self.index, self.program = patching.task, patching.index, patching.program
        self._differences = kept(self._differences_of)  # each of these is asked for every use
        self._volts = kept(self._volts_for)
        self._highest = kept(self._highest_of)
        self._caps = kept(self._caps_of)
        self.trims: dict[str, int] = {}
        """Channel → its column of steps."""
        self._deepest: dict[str, int] = {}
        """Channel → the most steps down."""
        self._loads = {name: load for name in self.channels.names if (load := self._load_on(name))}
        """Channel → the column of the admittance on it, in S, and the most that it can be."""
        self._mismatched()
        self._gain = kept(self._gain_of)
        self._most = kept(self._most_of)
        self._apart: list[Terms] = []
        """For each kind and role by how much left comes up against right, in dB."""
        self.tilt = self._tilts()
        for terms, most in self._kept(
            0, 1.0, self._over
        ):  # nothing comes back louder: higher gain is trimmed down
            self.program.row(terms, high=most)

    def trim(self, channel: str) -> Trim:
        """As it is set before any move."""
        at = self.index.channels[channel]
        return self.index.amplifiers[at.amplifier].channel(at.channel).trim

    def _mismatched(self) -> None:
        """A trim for each channel on which something may come to be louder or quieter than it was, or that has room up."""
        for name in self.channels.names:
            if not self.channels.ever_usable(name):
                continue
            trim = self.trim(name).value
            off = any(
                abs(setting.output.gain + trim + difference) > SEEN
                for _, setting, usable in self.channels.settings_of(name)
                if usable
                for use in self.patching.uses[name]
                for difference in self._differences(use.pair)
            )
            room = math.floor(-trim / TRIM + 1e-9)
            if not off and not (room > 0 and self.task.sides):
                continue
            reasons, deepest = self._steps_down(name)
            steps = self.program.column(-deepest, room)
            changed = self.program.column()
            self.program.row([(steps, 1.0), (changed, deepest)], low=0)
            self.program.row([(steps, 1.0), (changed, -room)], high=0)
            self.program.row([(steps, 1.0), *reasons], low=0)
            self._deepest[name] = deepest
            self.trims[name] = steps
            old = self.trim(name).text
            self.columns.moves[changed] = (Rewiring(kind="trim", at=name, old=old, new=old),)

    def _steps_down(self, channel: str) -> tuple[Terms, int]:
        """For how many steps down what is new on a channel gives reason, and the most of one thing: a trim matches a level, it turns
        nothing down to even the sides."""
        at = self.index.channels[channel]
        amplifier = self.index.amplifiers[at.amplifier]
        was = amplifier.model, amplifier.pair_mode(at.channel)
        options = [(c, s) for c, s, usable in self.channels.settings_of(channel) if usable]
        trim, steps, deepest = self.trim(channel).value, dict[int, float](), 0.0
        for use in self.patching.uses[channel]:
            ways = self._differences(use.pair)
            over = {c: s.output.gain + trim + max(ways) for c, s in options if ways}
            asked = {c: float(max(0, math.ceil(far / TRIM - 1e-6))) for c, far in over.items()}
            new = use.moved or bool(use.pair[1])
            least = min(asked.values(), default=0.0) if new else 0.0
            if least:
                steps[use.column] = least
            for column, setting in options if asked else ():
                if new or (setting.model, setting.mode) != was:
                    steps[column] = max(steps.get(column, 0.0), asked[column] - least)
                    deepest = max(deepest, asked[column])
        return list(steps.items()), min(DEEPEST, round(deepest))

    def _differences_of(self, pair: Pair) -> list[float]:
        """dB by which each section's way from the terminals is over its whole gain before the failure."""
        names = self.patching.load(pair).sections
        return [self._way(pair, name) for name in names if name in self.task.gains]

    def _gain_of(self, channel: str) -> Terms:
        """dB from the processor to a channel's terminals."""
        terms: list[tuple[int, float]] = [
            (column, setting.output.gain) for column, setting, _ in self.channels.settings_of(channel)
        ]
        terms.append((self.columns.one, self.trim(channel).value))
        if channel in self.trims:
            terms.append((self.trims[channel], TRIM))
        return terms

    @functools.cached_property
    def _alike(self) -> dict[tuple[Pair, str], list[Use]]:
        """Uses by pole pair and channel."""
        found: dict[tuple[Pair, str], list[Use]] = defaultdict(list)
        for uses in self.patching.uses.values():
            for use in uses:
                if self._differences(use.pair):
                    found[use.pair, use.channel].append(use)
        return found

    def _over(self, use: Use) -> float:
        """dB over half a step by which what hangs where it hung may be louder: by what it is."""
        names = self.patching.load(use.pair).sections if self.task.covering and not use.pair[1] else ()
        up = [
            self.task.covering.get(n, 0.0)
            for n in names
            if self.task.broken.sections[n].channel == use.channel
        ]
        return max(0.0, max(up, default=0.0) - HEARD + 1e-5)

    def quieter_rows(self, step: int) -> list[tuple[Terms, float]]:
        """Rows that keep every section from being quieter by more than so many steps at unchanged processor settings."""
        return self._kept(step, -1.0)

    def _kept(
        self, step: int, sign: float, over: Callable[[Use], float] = lambda _: 0.0
    ) -> list[tuple[Terms, float]]:
        """Rows that keep every section within so many steps of its level on one side of it, and what it may be over."""
        most = (step + 0.5) * criteria.LEVEL - 1e-6
        rows: list[tuple[Terms, float]] = []
        apart: dict[tuple[int, int, str, float], list[Use]] = defaultdict(list)  # of each one at most sounds
        for (pair, channel), uses in self._alike.items():
            differences = self._differences(uses[0].pair)
            far = (max(differences) if sign > 0 else -min(differences)) - over(uses[0])
            apart[pair[0], pair[2], channel, round(far, 9)] += uses
        for (_, _, channel, far), uses in apart.items():
            terms = [(c, sign * f) for c, f in self._gain(channel)]
            top = self._most(channel, sign) + far - most
            if top > 0:
                rows.append(([*terms, *((use.sounds, top) for use in uses)], most - far + top))
        return rows

    def _most_of(self, channel: str, sign: float) -> float:
        """dB, the highest gain that a channel may have, or the lowest with its sign turned."""
        trim = self.trim(channel).value
        gains = [sign * (setting.output.gain + trim) for _, setting, _ in self.channels.settings_of(channel)]
        if len(gains) < len(self.channels.settings[self.channels.place(channel)[0]]):
            gains.append(sign * trim)  # as the second of a bridge it has no gain
        if channel not in self.trims:
            return max(gains, default=0.0)
        return max(gains) + (-trim if sign > 0 else self._deepest[channel] * TRIM)

    def change_of(self, solved: Solved) -> float:
        """dB, the largest change of level at a solution."""
        changes = [(s.gain or 0.0) - self.task.gains[n] for n, s in self._outside().items() if s.channel]
        for (_, channel), uses in self._alike.items():
            if any(solved.on(use.sounds) for use in uses):
                gain = self.program.value(self._gain(channel), solved.columns)
                changes += [gain + way for way in self._differences(uses[0].pair)]
        return max(
            [abs(change) for change in changes if change <= HEARD], default=0.0
        )  # louder is what covers

    def _outside(self) -> dict[str, SectionResult]:
        """The sections that the programme has no say in."""
        return {n: self.task.broken.sections[n] for n in self.task.weights if n not in self.patching.inside}

    def _tilts(self) -> Terms:
        """The column of the largest change between left and right, in dB; none where there are no sides."""
        if not self.task.sides:
            return []
        tilt = self.program.column(0, BIG, whole=False)
        for sides in self.task.sides.values():
            terms: list[tuple[int, float]] = []
            for sign, (_, names) in zip((1.0, -1.0), sorted(sides.items()), strict=True):
                for name in names:
                    terms += [(c, sign * f / len(names)) for c, f in self._change_of(name)]
            self._apart.append(terms)
            self.program.row([(tilt, 1.0), *((c, -f) for c, f in terms)], low=0)
            self.program.row([(tilt, 1.0), *terms], low=0)
        return [(tilt, 1.0)]

    def tilt_of(self, solved: Solved) -> float:
        """dB, the largest change between left and right at a solution."""
        return max([abs(self.program.value(terms, solved.columns)) for terms in self._apart], default=0.0)

    def _change_of(self, name: str) -> Terms:
        """dB by which a section's level changes; what is silent counts as so far down."""
        section = self.task.broken.sections[name]
        if name not in self.patching.inside or name in self.task.left:
            told = section.channel is not None and section.gain is not None
            return [(self.columns.one, (section.gain or 0.0) - self.task.gains[name] if told else SILENT)]
        terms: list[tuple[int, float]] = [(self.columns.one, SILENT)]
        open_: list[tuple[Use, float]] = []  # where the gain may change, and the way over silence besides
        for use in self.patching.by_section[name]:
            over, gain = self._way(use.pair, name) - SILENT, self._only_gain(use.channel)
            if gain is None and use.sounds == self.columns.one:
                return [(self.columns.one, over + SILENT), *self._gain(use.channel)]
            if gain is None:
                open_.append((use, over))
            else:
                terms.append((use.sounds, over + gain))
        if not open_:
            return terms
        ends = [self._ends(use.channel) for use, _ in open_]
        low = min([0.0, *(over + end[0] for (_, over), end in zip(open_, ends, strict=True))])
        heard = max(HEARD, self.task.covering.get(name, 0.0)) - SILENT
        high = min(heard, max([0.0, *(over + end[1] for (_, over), end in zip(open_, ends, strict=True))]))
        column = self.program.column(low, high, whole=False)
        for sign, most in ((1.0, high), (-1.0, -low)):
            self.program.row([(column, -sign), *((use.sounds, most) for use, _ in open_)], low=0)
            for (use, over), end in zip(open_, ends, strict=True):
                gains = [(c, sign * f) for c, f in self._gain(use.channel)]
                apart = max(0.0, most - min(sign * (over + each) for each in end))
                self.program.row([(column, -sign), *gains, (use.sounds, -apart)], low=-sign * over - apart)
        return [*terms, (column, 1.0)]

    def _ends(self, channel: str) -> tuple[float, float]:
        """dB, the lowest and the highest gain that a channel may have."""
        return -self._most(channel, -1.0), self._most(channel, 1.0)

    def _way(self, pair: Pair, name: str) -> float:
        """dB by which a section's way from the terminals is over its whole gain before the failure."""
        load = self.patching.load(pair)
        return 20 * math.log10(load.transfers[load.sections.index(name)]) - self.task.gains[name]

    def _only_gain(self, channel: str) -> float | None:
        """dB from the processor to a channel's terminals, where nothing can change it."""
        gains = {setting.output.gain for _, setting, _ in self.channels.settings_of(channel)}
        if channel in self.trims or len(gains) != 1:
            return None
        return gains.pop() + self.trim(channel).value

    def _load_on(self, channel: str) -> tuple[int, float] | None:
        uses = self.patching.uses[channel]
        every = [(u.column, self.patching.load(u.pair).admittance) for u in uses]
        borne = [self.channels.most_borne(channel, s) for _, s, _ in self.channels.settings_of(channel)]
        whole = min(sum([y for _, y in every]), max(borne, default=0.0))
        if not whole:
            return None
        if all(u.column == self.columns.one for u in uses):
            return self.program.column(whole, whole, whole=False), whole
        column = self.program.column(0, whole, whole=False)
        self.program.row([(column, -1.0), *every], 0, 0)
        return column, whole

    def loss_rows(self, step: int) -> list[tuple[Terms, float]]:
        """Rows that keep every section within so many steps of its maximum level before."""
        rows: list[tuple[Terms, float]] = []
        for channel, (on, whole) in self._loads.items():
            if not (settings := self.channels.settings_of(channel)):
                continue  # a bridge's second half, on which nothing sounds
            grouped: dict[float, dict[tuple[int, int], list[Use]]] = defaultdict(lambda: defaultdict(list))
            free: list[tuple[int, float]] = []  # what may hang there besides, of which nothing is asked
            for use in self.patching.uses[channel]:
                volts = self._volts(use.pair, step)
                if volts > 0:
                    grouped[volts][use.pair[0], use.pair[2]].append(use)
                if volts <= 0 or use.sounds != use.column:
                    free.append((use.column, -whole))
                if volts > 0 and use.sounds != use.column:
                    free.append((use.sounds, whole))
            stays, asked = self._staying(channel, step)
            # whatever is on the channel asks for so much at least
            asked = max(asked, min(grouped, default=0.0))
            loosest = self._caps(channel, asked)
            for volts, apart in sorted(grouped.items()):
                caps = self._caps(channel, max(volts, asked))
                least, highest = min(caps), self._highest(channel, max(volts, asked))
                if least >= whole:
                    continue
                more = [
                    (c, least - cap) for (c, _, _), cap in zip(settings, caps, strict=True) if cap > least
                ]
                room = max(most - cap for most, cap in zip(loosest, caps, strict=True))
                if volts == asked:
                    rows.append(([(on, 1.0), *free, *more], least))
                for uses in apart.values():
                    fits = [stays + self.patching.load(u.pair).admittance <= highest + SLACK for u in uses]
                    if not (free or highest >= whole or any(fits) or uses[0].column == self.columns.one):
                        rows.append(([(use.sounds, 1.0) for use in uses], 0.0))
                    elif room:
                        rows.append(
                            ([(on, 1.0), *free, *more, *((u.sounds, room) for u in uses)], least + room)
                        )
        return rows

    def _volts_for(self, pair: Pair, step: int) -> float:
        """V at the terminals that a pole pair asks for, to lose so many steps at most."""
        most = (step + 0.5) * criteria.LEVEL - 1e-6
        return round(needed(self.task, self.patching.load(pair), most), 6)

    def _caps_of(self, channel: str, volts: float) -> list[float]:
        """S, with which a channel still gives so many V, by its settings; no more than may be on it."""
        _, whole = self._loads[channel]
        points = [setting.output.points for _, setting, _ in self.channels.settings_of(channel)]
        return [min(max(_admittance_for(each, volts), 0.0), whole) for each in points]

    def _highest_of(self, channel: str, volts: float) -> float:
        """S, the most with which a channel sounds and gives so many V."""
        settings = self.channels.settings_of(channel)
        each = zip(settings, self._caps(channel, volts), strict=True)
        return max(
            [min(cap, self.channels.most_borne(channel, s)) for (_, s, usable), cap in each if usable],
            default=0.0,
        )

    def _staying(self, channel: str, step: int) -> tuple[float, float]:
        """S and V of what sounds on a channel and stays there."""
        on = [use for use in self.patching.uses[channel] if use.column == use.sounds == self.columns.one]
        asked = max([self._volts(use.pair, step) for use in on], default=0.0)
        return sum(self.patching.load(use.pair).admittance for use in on), asked

    def may_lose(self, step: int) -> bool:
        """Whether the channels may bear all that is silent with no more loss than so many steps, whatever else is asked of a plan:
        pole pairs that are alike are only counted, so that this is known at once."""
        kinds = Counter(self._open(step))
        if () in kinds or kinds.total() <= FEW:
            return () not in kinds
        program, on = Program(), defaultdict[str, list[tuple[int, int, float, float]]](list)
        for kind, count in kinds.items():
            columns = [program.column(0, count) for _ in kind]
            program.row([(column, 1.0) for column in columns], count)
            for column, (channel, admittance, volts) in zip(columns, kind, strict=True):
                on[channel].append((column, count, admittance, volts))
        for channel in filter(on.__contains__, self._loads):
            each, (stays, asked) = on[channel], self._staying(channel, step)
            loosest = self._highest(channel, max(asked, min([volts for _, _, _, volts in each])))
            terms = [(column, admittance) for column, _, admittance, _ in each]
            program.row(terms, high=loosest - stays + SLACK)
            for column, count, _, volts in each:
                if (least := self._highest(channel, volts)) < loosest:
                    some = program.column()
                    program.row([(column, 1.0), (some, -float(count))], high=0)
                    program.row([*terms, (some, loosest - least)], high=loosest - stays + SLACK)
        return program.minimised(()) is not None

    def _open(self, step: int) -> Iterator[tuple[tuple[str, float, float], ...]]:
        """Each pole pair that may move and has to sound: the channels where it may, and the least S and V of it there."""
        told = set[tuple[int, int]]()
        for name in self.task.weights:
            open_ = name in self.patching.inside and name not in self.task.left
            uses = self.patching.by_section[name] if open_ else []
            pairs = {(use.pair[0], use.pair[2]) for use in uses}
            if not uses and self.task.broken.sections[name].channel is None:
                yield ()
            if len(pairs) != 1 or pairs <= told or uses[0].column == self.columns.one:
                continue
            told |= pairs
            least: dict[str, tuple[float, float]] = {}
            for use in uses:
                admittance, volts = self.patching.load(use.pair).admittance, self._volts(use.pair, step)
                low = least.get(use.channel, (admittance, volts))
                least[use.channel] = min(admittance, low[0]), min(volts, low[1])
            yield tuple([(channel, *figures) for channel, figures in sorted(least.items())])

    def loss_of(self, solved: Solved) -> float:
        """dB, the largest loss of maximum level at a solution."""
        worst = max(
            (
                20 * math.log10(self.task.voltages[name] / s.voltage)
                for name, s in self._outside().items()
                if s.voltage
            ),
            default=0.0,
        )
        for channel in self.channels.names:
            on = [use for use in self.patching.uses[channel] if solved.on(use.column)]
            total = sum(self.patching.load(use.pair).admittance for use in on)
            setting = next((s for c, s, _ in self.channels.settings_of(channel) if solved.on(c)), None)
            if not total or setting is None:
                continue
            voltage = source.limit_voltage(setting.output.points, 1 / total)
            for use in on:
                load = self.patching.load(use.pair)
                for name, transfer in zip(load.sections, load.transfers, strict=True):
                    if name in self.task.voltages and solved.on(use.sounds):
                        worst = max(worst, 20 * math.log10(self.task.voltages[name] / (voltage * transfer)))
        return worst


@functools.lru_cache(maxsize=4096)
def _admittance_for(points: tuple[source.Point, ...], voltage: float) -> float:
    """The admittance up to which the terminals hold a voltage: infinite where always, under 0 where never."""
    if voltage > points[0].voltage * (1 + 1e-9):
        return -1.0
    low, high = 1e-3, points[0].load
    if source.limit_voltage(points, low) >= voltage:
        return math.inf
    return 1 / lowest_load(low, high, lambda load: source.limit_voltage(points, load) >= voltage)
