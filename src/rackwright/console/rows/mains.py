"""The mains tree in rows: intake and phases, boards, circuits, and what hangs on them, each with how full it is at both duties."""

from collections.abc import Iterator, Sequence
from typing import NamedTuple, TypeAlias

from rackwright.console.rows import results
from rackwright.console.rows.racks import Marks
from rackwright.console.rows.row import Part, Row, caution, cut, fit, heading, in_columns, titles, words
from rackwright.console.terminal.glyphs import Glyphs
from rackwright.engine import cautions, limits, outage
from rackwright.engine.assess import Assessed
from rackwright.engine.demand import point_name
from rackwright.engine.figures import Shown
from rackwright.engine.finding import Limit
from rackwright.model.mains import Board, Circuit, Load, Measured, SupplyCable
from rackwright.model.racks import Amplifier
from rackwright.units import figure as number
from rackwright.units import reading
from rackwright.units.formatting import LEAST, on_a_meter, whole_percent
from rackwright.units.text_table import wrap

PHASE, DEVICE, FULL, RCD, MARK = 8, 7, 13, 10, 7
"""Cells of the columns beside the name: phases, rating and curve, a bar with its figure, RCD, severity or `failed`."""
BESIDE = PHASE + DEVICE + 2 * FULL + MARK + 5
LEAST_NAME = 10

Node: TypeAlias = str | Board | Circuit | Amplifier | Load
"""What stands in the tree; a phase by its name."""


def rows(assessment: Assessed, width: int, glyphs: Glyphs) -> list[Row]:
    """The whole tree, what is on no circuit, what the columns are, and the caution."""
    tree, index = _Tree(assessment, width, glyphs), assessment.index
    lines: list[_Line | Row] = [*tree.intake()]
    if not index.circuits:
        lines.append(words("No circuit yet. Press a to add one."))
    if loose := tree.hanging(""):
        lines += [words(""), heading("On no circuit")]
        lines += [line for each in loose for line in tree.node(each, "", "")]
    found = [*_most_loaded(assessment, width), *tree.rows(lines)]
    rules = index.rig.supply.rules
    near, full = (whole_percent(of.value) for of in (limits.loading_near(rules), limits.loading_heavy()))
    told = f"Bars: share of the rating. Over: past {near} of it at programme, {full} driven hard."
    if assessment.rcds:
        told += f" {index.rig.supply.guard} leak: what leaks, of its rating."
    found += [words(""), *(words(line, "dim") for line in wrap(told, width))]
    return [*found, *caution(cautions.PLANNING, width)]


def _most_loaded(assessment: Assessed, width: int) -> Iterator[Row]:
    """Which breaker goes first."""
    programme, hard = (assessment.most_loaded(heavy) for heavy in (False, True))
    if programme and hard:
        (at, share), (at_hard, share_hard) = programme, hard
        told = (
            f"Most loaded: {point_name(at)}, {whole_percent(share, *limits.LOADINGS)} of its rating at programme; {point_name(at_hard)}, "
            f"{whole_percent(share_hard, *limits.LOADINGS)} driven hard"
        )
        yield from (words(line) for line in wrap(told, width))


class _Line(NamedTuple):
    """What stands on the line of a node; `lead` before its name, `told` behind it."""

    name: str
    lead: str
    told: str
    place: str
    phases: str = ""
    rated: str = ""
    rcd: str = ""


class _Tree:
    """One drawing of the tree."""

    def __init__(self, assessment: Assessed, width: int, glyphs: Glyphs) -> None:
        self.assessment, self.index, self.glyphs = assessment, assessment.index, glyphs
        # where there is no room the phases and what leaks go: both are told of what is selected
        leaks = RCD + 1 if assessment.rcds else 0
        whole = width >= BESIDE + leaks + LEAST_NAME
        self.phase, self.rcd = (PHASE if whole else -1), (leaks - 1 if whole else -1)
        beside = BESIDE + leaks if whole else BESIDE - PHASE - 1
        self.width, self.name = width, max(LEAST_NAME, width - beside)
        self.marks, self.gap = Marks(assessment), ""

    def rows(self, lines: Sequence[_Line | Row]) -> Iterator[Row]:
        """The lines under their headings, the columns beside the longest name."""
        named = [line for line in lines if isinstance(line, _Line)]
        lengths = [len(self.glyphs.spelt(f"{line.lead}{line.name} {line.told} ")) for line in named]
        rated = (len(self.glyphs.spelt(f"{line.lead}{line.name}  ")) for line in named if line.rated)
        guard = f"{self.index.rig.supply.guard} leak"
        marked = max(len(self.marks.of(line.place)[0]) for line in named)
        self.name += MARK - marked - (marked > 0)
        if self.rcd > 0:
            leaks = max(len(guard), *(len(line.rcd) for line in named))
            self.name, self.rcd = self.name + self.rcd - leaks, leaks
        # two blanks beside the columns go before what is told of a name
        longest = max(LEAST_NAME, *rated, min(max(lengths), self.name - 2 * (self.phase > 0)))
        if (spare := self.name - longest) > 0:
            self.name, self.phase = self.name - spare, self.phase + (self.phase > 0)
            self.gap = " " * (self.rcd > 0 and spare > 1)
            self.rcd += len(self.gap)
        duties = f"{'Programme':>{FULL}}", f"{'Driven hard':>{FULL + 1}}"
        names = ("", "Phase", "Rating", *duties, f"{self.gap}{guard}")
        sizes = (self.name, self.phase, DEVICE, FULL, FULL + 1, self.rcd)
        yield titles(in_columns(names, sizes, self.glyphs))
        yield from (self._row(line) if isinstance(line, _Line) else line for line in lines)

    def intake(self) -> Iterator[_Line | Row]:
        """The supply, and all that hangs on it."""
        supply, phases = self.index.rig.supply, self.index.supply_phases
        yield _Line(
            "Intake", "", str(supply.voltage), "", "-".join(phases), supply.rated(supply.rating, supply.curve)
        )
        split: tuple[Node, ...] = tuple(sorted(self.index.used_phases)) if len(phases) > 1 else ()
        yield from self._below((*split, *self._fed("")), "")

    def node(self, thing: Node, lead: str, beneath: str) -> Iterator[_Line | Row]:
        """A node with all under it; `lead` stands before it, `beneath` before what is under it."""
        match thing:
            case str():
                yield _Line(thing, lead, "", thing)
            case Board() | Circuit():
                rating = thing.rating if isinstance(thing, Board) else thing.breaker
                rated = self.index.rig.supply.rated(rating, thing.curve)
                phases = "-".join(self.index.phases_at(thing))
                told, rcd = _cable(thing.supply_cable), self._leakage(thing.id)
                yield _Line(thing.id, lead, told, thing.id, phases, rated, rcd)
                on_it = self._fed(thing.id) if isinstance(thing, Board) else self.hanging(thing.id)
                if isinstance(thing, Circuit) and thing.measured:
                    lead_ = beneath + (self.glyphs.bar if on_it else self.glyphs.gap)
                    yield from self._measured(thing, thing.measured, lead_)
                yield from self._below(on_it, beneath)
            case Amplifier():
                yield _Line(thing.id, lead, thing.model, thing.id)
            case Load():
                yield _Line(thing.id, lead, thing.name, thing.id)

    def _leakage(self, place: str) -> str:
        """What leaks behind an RCD, of its rating."""
        rcd = self.assessment.rcds.get(place)
        return f"{1000 * rcd.leakage:.0f}/{1000 * rcd.rating:.0f} mA" if rcd else ""

    def hanging(self, circuit: str) -> Sequence[Node]:
        """The amplifiers and other loads on a circuit; those on none where empty."""
        rig = self.index.rig
        amplifiers = (each for each in rig.amplifiers() if each.circuit == circuit)
        return [*amplifiers, *(each for each in rig.loads if each.circuit == circuit)]

    def _fed(self, board: str) -> Sequence[Node]:
        """What a board feeds, the supply where empty."""
        boards = (each for each in self.index.rig.boards if each.source == board)
        return [*boards, *(each for each in self.index.rig.circuits if each.board == board)]

    def _below(self, things: Sequence[Node], lead: str) -> Iterator[_Line | Row]:
        for thing in things:
            last = thing is things[-1]
            sign, beneath = (
                (self.glyphs.corner, self.glyphs.gap) if last else (self.glyphs.tee, self.glyphs.bar)
            )
            yield from self.node(thing, lead + sign, lead + beneath)

    def _measured(self, circuit: Circuit, measured: Measured, lead: str) -> Iterator[Row]:
        """What the clamp meter showed and the duty that it means, beside what is figured at which duty."""
        result, rig = self.assessment.circuits[circuit.id], self.index.rig
        means = "" if result.measured_duty is None else f", a duty of {number(result.measured_duty)}"
        figured = " and ".join(
            f"{reading(current, 'A')} at {number(duty)}"
            for current, duty in (
                (result.programme_current, rig.programme_duty),
                (result.heavy_current, rig.targets.heavy_duty),
            )
        )
        when = f" ({measured.when})" if measured.when else ""
        told = f"measured {measured.current}{when}{means}; calculated {figured}"
        for line in wrap(told, self.width - len(lead)):
            yield Row(((lead, "dim"), (line, "note")), selectable=False)

    def _row(self, line: _Line) -> Row:
        """One node. What is told of it gives way to its columns where there are any; a long name takes of theirs."""
        name, lead, told, place, phases, rated, rcd = line
        rated = f"{fit(phases, self.phase)} {rated}" if self.phase > 0 else rated
        columns = rated if rated.strip() else ""
        room = self.name - len(lead) - len(name)
        if columns and len(self.glyphs.spelt(told)) >= room - 1:
            told = ""
        between = f" {fit(told, room - 1)} {columns}" if columns else f" {told}"
        space, ((full, look), *more) = room + self.phase + DEVICE + 2, self._full(place)
        blank = len(full) - len(full.lstrip()) - 1  # a name runs into the room of a bar that is not there
        into = min(max(0, len(self.glyphs.spelt(between)) - space), max(0, blank))
        left = cut(between, space + into, self.glyphs)
        last, (mark, style) = (
            f" {cut(f'{self.gap}{rcd}', self.rcd, self.glyphs)}" if self.rcd > 0 else "",
            self.marks.of(place),
        )
        return Row(
            (
                (lead, "dim"),
                (name, "head"),
                (f"{left} ", ""),
                (full[into:], look),
                *more,
                (last, ""),
                (f" {mark}" if mark else "", style),
            ),
            place,
        )

    def _full(self, place: str) -> list[Part]:
        """How full a node is at both duties, or what it draws; why it is dead where another thing has failed."""
        dead = outage.at(self.index, place) if place else None
        if dead and dead.at != place:
            return [(fit(str(dead), 2 * FULL + 2), "failed")]
        shown = {
            each.figure.name: each for _, group in results.groups(self.assessment, place) for each in group
        }
        pairs = ([shown[name] for name in pair if name in shown] for pair in _FIGURES)
        known = next((pair for pair in pairs if pair and pair[0].value is not None), None)
        if known is None:
            return [(" " * (2 * FULL + 2), "")]
        return [*self._figure(place, known[0]), ("  ", ""), *self._figure(place, known[-1])]

    def _figure(self, place: str, shown: Shown) -> list[Part]:
        value = shown.value or 0.0
        if shown.limit is None:
            return [(f"{_told(shown, value):>{FULL}}", "")]
        told = _told(shown, value)
        grave, limit = results.gravity(self.assessment, place, shown), shown.limit
        if shown.figure.unit == "ratio" and limit.margin(value) > 0:
            limit = Limit(limit.bound, 1.0, limit.why)  # as many cells for as many per cent
        return [
            *results.bar(limit, value, self.glyphs, grave),
            (f"{told:>{FULL - results.BAR - 1}}", ""),
        ]


_FIGURES = (
    ("loading", "loading_heavy"),
    ("generator_loading", "generator_loading_heavy"),
    ("programme_current", "heavy_current"),
    ("fullest", "fullest_heavy"),
)
"""What says how full a node is, at both duties: the first that it has. A load draws the same at both."""


def _told(shown: Shown, value: float) -> str:
    """A figure of a column: amperes with the zeros of a meter."""
    if shown.figure.unit == "A" and value >= LEAST:
        return f"{on_a_meter(value)} A"
    return (
        whole_percent(value, *limits.LOADINGS) if shown.figure.unit == "ratio" else shown.figure.text(value)
    )


def _cable(cable: SupplyCable | None) -> str:
    return f"{cable.length} {cable.size}" if cable else ""
