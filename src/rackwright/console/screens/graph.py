"""The graph: impedance, level, kick and measured sweeps of the channels behind what is selected.

Puts the engine's curves into plots with their legends, and lets keys choose the view and the channel. Computes none
of the curves and draws no sign itself: those are `engine.frequency_response` and `rows.plot`.
"""

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np
from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Label, Static

from rackwright.console.related import kind_of, related
from rackwright.console.rows import plot, results
from rackwright.console.rows.plot import Curve, Line, Plot, Scale
from rackwright.console.rows.row import Part, Row, cut, fit, hanging, heading, width_of, words, wrapped
from rackwright.console.terminal.glyphs import Glyphs
from rackwright.console.widgets.dialog import Box, Dialog, Hint, styled
from rackwright.engine import decay, figures, frequency_response
from rackwright.engine.assess import Assessed
from rackwright.engine.channel import Branch, band_of
from rackwright.engine.kick import Wired, pictured
from rackwright.engine.loudspeaker import LOWEST_MODULUS, Array, frequencies
from rackwright.engine.meter_check import Checked, checked, modulus
from rackwright.model.index import Index
from rackwright.units import figure, reading
from rackwright.units.text_table import wrap
from rackwright.units.wording import few

VIEWS = ("impedance", "level", "both", "kick", "motion", "sweep")
MOST = 4
"""Level curves drawn at once; more can't be told apart."""
ALIKE = 0.005
"""dB within which two levels are one curve."""
ROOM = 1.3
"""How far the axis goes on past the last point, as a factor: its last mark needs the place."""
TALL = 34
"""Lines from which on one view fits well over the other; in fewer they stand side by side."""
GAP = 2
"""Cells between two views side by side."""
LOW = 8
"""Lines that a plot with its axis has before its legend is cut."""
_SECTION_STYLES = ("head", "ok", "", "head")


class Framed(NamedTuple):
    """A plot under its title and over its legend."""

    above: list[Row]
    picture: Plot
    below: list[Row]

    def rows(self, width: int, height: int, glyphs: Glyphs) -> list[Row]:
        room = height - len(self.above) - len(self.below)
        return [*self.above, *plot.rows(self.picture, width, room, glyphs), *self.below]


def channels_of(assessment: Assessed, place: str) -> list[str]:
    """The channels that drive what `place` names and have something connected, in the order of the rig."""
    index = assessment.index
    loaded = [branch for branch in assessment.branches.values() if branch.sections]
    match kind_of(assessment, place):
        case "rig":
            return [branch.id for branch in loaded]
        case "rack":
            return [branch.id for branch in loaded if index.rack_of[branch.amplifier.id].id == place]
        case "amplifier":
            return [branch.id for branch in loaded if branch.amplifier.id == place]
        case "circuit":
            return [branch.id for branch in loaded if branch.amplifier.circuit == place]
        case "line":
            names = {run.channel for run in assessment.runs.get(place, ())}
        case _:
            names = set(related(assessment, place))
    return [branch.id for branch in loaded if branch.id in names]


# --- impedance ----------------------------------------------------------------------------------------


def impedance(branch: Branch, before: Branch | None, width: int, height: int, glyphs: Glyphs) -> Framed:
    """The impedance at a channel's terminals, with its limits; `before` is the channel as it was kept."""
    band = band_of(branch.feed)
    frequency = frequency_response.frequencies_around(band)
    now = frequency_response.impedance_modulus(branch.circuit, frequency)
    then = (
        frequency_response.impedance_modulus(before.circuit, frequency)
        if before is not None and before.sections
        else None
    )
    lines = _limits(branch)
    drawn = _compared(frequency, now, then)
    values = [value for curve in drawn for value in (min(curve.y), max(curve.y))] + [line.y for line in lines]
    picture = Plot(
        plot.decades(float(frequency[0]), float(frequency[-1])), plot.doublings(values), drawn, lines, band
    )
    legend = [entry(curve, number, glyphs) for number, curve in enumerate(drawn)] if len(drawn) > 1 else []
    legend += [_broken(line, glyphs) for line in lines] + [_band(branch, glyphs)]
    least, at = branch.result.load_minimum, branch.result.load_minimum_at
    said = [f"Lowest in the band {reading(least, 'Ω')} at {reading(at, 'Hz')}."]
    if then is not None and len(drawn) == 1:
        said.append("Before: the same.")
    if branch.undescribed:
        counted = f"counted for the lowest at {figure(LOWEST_MODULUS)} of it"
        said.append(f"{_bare(branch).removesuffix('.')}, {counted}.")
    title = "Impedance at the terminals in Ω"
    return framed(title, picture, legend, " ".join(said), width, height, glyphs)


def _compared(frequency: Array, now: Array, then: Array | None) -> tuple[Curve, ...]:
    x = frequency.tolist()
    if then is None or np.allclose(now, then, rtol=1e-4):
        return (Curve(x, now.tolist(), "now"),)
    return (
        Curve(x, now.tolist(), "now", "n"),
        Curve(x, then.tolist(), "before", "b", "note", faint=True),
    )


def _limits(branch: Branch) -> tuple[Line, ...]:
    limits = {shown.figure.name: shown.limit for shown in figures.of_channel(branch)}
    rated, least = limits["load_nominal"], limits["load_minimum"]
    if rated is None or least is None:
        return ()
    return (
        Line(rated.value, f"{reading(rated.value, 'Ω')} rated", "warn", "╌-"),
        Line(least.value, f"{reading(least.value, 'Ω')} limit", "stop", "┄="),
    )


def _broken(line: Line, glyphs: Glyphs) -> tuple[Part, Part]:
    told = {"rated": "lowest rated load", "limit": f"{figure(LOWEST_MODULUS)} of that, limit in the band:"}
    number, _, word = line.words.rpartition(" ")
    sign = line.broken[glyphs.ascii]
    return ((f"{sign} {sign}", line.style), (f" {told[word]} {number}", ""))


# --- level --------------------------------------------------------------------------------------------


class _Alike(NamedTuple):
    """Sections with one and the same level, now and before."""

    names: list[str]
    now: Array
    then: Array | None
    ripple: float | None


def levels(
    branch: Branch, kept: Assessed | None, place: str, width: int, height: int, glyphs: Glyphs
) -> Framed:
    """The level at each section of a channel, those of `place` first; with `kept`, as it was there too."""
    band = band_of(branch.feed)
    frequency = frequency_response.frequencies_around(band)
    groups = _alike(branch, kept, frequency)
    groups.sort(
        key=lambda group: not any(name == place or name.startswith(f"{place}.") for name in group.names)
    )
    shown = groups[:MOST]
    now = [
        Curve(frequency.tolist(), group.now.tolist(), _named(group, kept), _sign(number, groups), style)
        for number, (group, style) in enumerate(zip(shown, _SECTION_STYLES, strict=False), 1)
    ]
    then = [
        Curve(frequency.tolist(), group.then.tolist(), "before", curve.mark, "note", faint=True)
        for group, curve in zip(shown, now, strict=True)
        if group.then is not None and not _same(group.now, group.then)
    ]
    drawn = (*now, *then)
    deepest = min(min(curve.y) for curve in drawn)
    highest = max(max(curve.y) for curve in drawn)  # over 0 where capacitor and coil resonate
    axis = plot.down_from_zero(deepest, max(3, height // 4), highest)
    picture = Plot(plot.decades(float(frequency[0]), float(frequency[-1])), axis, drawn, (), band)
    legend = [entry(curve, number, glyphs) for number, curve in enumerate(drawn)]
    legend.append(_band(branch, glyphs))
    left_out = [name for group in groups[MOST:] for name in group.names]
    said = ["0 dB: the amplifier's own voltage."]
    said += [f"Not drawn: {few(left_out, 3)}. Select a cabinet to see its own."] if left_out else []
    said += [_bare(branch)] if branch.undescribed else []
    title = "Level at the sections in dB"
    return framed(title, picture, legend, " ".join(said), width, height, glyphs)


def _alike(branch: Branch, kept: Assessed | None, frequency: Array) -> list[_Alike]:
    groups: list[_Alike] = []
    earlier: dict[str, dict[str, Array]] = {}
    for section, now in zip(
        branch.sections, frequency_response.section_levels(branch.circuit, frequency), strict=True
    ):
        then = _earlier(kept, section.id, frequency, earlier) if kept is not None else None
        for group in groups:
            if _same(group.now, now) and _both_same(group.then, then):
                group.names.append(section.id)
                break
        else:
            groups.append(_Alike([section.id], now, then, section.ripple))
    return groups


def _earlier(
    kept: Assessed, section: str, frequency: Array, known: dict[str, dict[str, Array]]
) -> Array | None:
    """A section's level in the kept state, whichever channel drove it then."""
    result = kept.sections.get(section)
    if result is None or result.patched is None:
        return None
    if result.patched not in known:
        branch = kept.branches[result.patched]
        pairs = zip(
            branch.sections, frequency_response.section_levels(branch.circuit, frequency), strict=True
        )
        known[result.patched] = {there.id: level for there, level in pairs}
    return known[result.patched][section]


def _same(one: Array, other: Array) -> bool:
    return bool(np.allclose(one, other, rtol=0, atol=ALIKE))


def _both_same(one: Array | None, other: Array | None) -> bool:
    if one is None or other is None:
        return one is other
    return _same(one, other)


def _sign(number: int, groups: Sequence[_Alike]) -> str:
    return str(number) if len(groups) > 1 else ""


def _named(group: _Alike, kept: Assessed | None) -> str:
    ripple = f", ripple {reading(group.ripple, 'dB')}" if (group.ripple or 0) > ALIKE else ""
    changed = group.then is not None and not _same(group.now, group.then)
    before = "" if kept is None or changed else ", before " + ("none" if group.then is None else "the same")
    return f"{'now ' if changed else ''}{few(group.names, 3)}{ripple}{before}"


# --- kick ---------------------------------------------------------------------------------------------


def kick(
    assessment: Assessed,
    branch: Branch,
    place: str,
    kept: Assessed | None,
    view: str,
    width: int,
    height: int,
    glyphs: Glyphs,
) -> list[Row]:
    """Sound pressure or cone motion of a woofer at a kick, in the wirings that are laid side by side."""
    found = pictured(assessment, branch.id, place, kept)
    if found is None:
        none = "drives no woofer with driver data" if branch.live else "is silent"
        told = f"{branch.id} {none}. Kick and motion plot how the sound and the cone of a woofer follow a short burst of bass."
        return [words(text) for text in wrap(told, width)]
    now, ideal, *others = found.wired
    shown = [now, *others, ideal]
    moves = [wired.kick.pressure if view == "kick" else wired.kick.motion for wired in shown]
    most = max(float(np.abs(each).max()) for each in moves)
    curves = tuple(
        Curve(
            (1000 * wired.kick.time).tolist(),
            (each / most).tolist(),
            _wired(wired),
            str(number),
            style,
            faint=wired.resistance == 0,
        )
        for number, (wired, each, style) in enumerate(zip(shown, moves, _KICK_STYLES, strict=False), 1)
    )
    drawn = "sound pressure" if view == "kick" else "cone motion"
    title = f"{found.section} at a kick of {reading(found.frequency, 'Hz')}: {drawn}, highest 1"
    end = 1000 * decay.KICK_CYCLES / found.frequency
    picture = Plot(plot.milliseconds(curves[0].x[-1]), Scale(-1, 1, 0.5), curves, uprights=(end,))
    legend = [entry(curve, number, glyphs) for number, curve in enumerate(curves)]
    legend.append((plot.upright(glyphs.ascii), (" the kick ends", "")))
    return framed(title, picture, legend, found.remark, width, height, glyphs).rows(width, height, glyphs)


_KICK_STYLES = ("head", "warn", "ok", "note", "dim")


def _wired(wired: Wired) -> str:
    damping = f"D {figure(wired.damping_factor)}, " if wired.resistance else ""
    return f"{wired.words}: {damping}−20 dB in {figure(1000 * wired.decay)} ms"


# --- sweep --------------------------------------------------------------------------------------------


def swept(assessment: Assessed, branch: Branch, place: str) -> list[Checked]:
    """The pole pairs behind a channel that a sweep is kept of, that of the line `place` first."""
    pairs = {(run.line, run.near) for run in branch.runs}
    measured = {each.line for each in assessment.index.rig.readings if each.sweep}
    lines = measured & {line for line, _ in pairs}
    found = checked(assessment.index, lines=lines) if lines else ()
    kept = [each for each in found if each.reading and each.reading.sweep]
    kept = [each for each in kept if (each.test.line, each.test.pair) in pairs]
    return sorted(kept, key=lambda each: place not in (each.test.line, each.test.to))


def sweep(index: Index, item: Checked, width: int, height: int, glyphs: Glyphs) -> list[Row]:
    """The measured sweep of a pole pair over the model's curve, with what differs."""
    points = item.reading.sweep if item.reading is not None else ()
    low, high = points[0][0], points[-1][0]
    grid = frequencies(low, high)
    expected = modulus(index, item.test, grid)
    measured = Curve([f for f, *_ in points], [ohms for _, ohms, _ in points], "measured", "m")
    drawn = [measured]
    if expected.max() < float("inf"):
        drawn.append(Curve(grid.tolist(), expected.tolist(), "by the model", "e", "note", faint=True))
    values = [value for curve in drawn for value in (min(curve.y), max(curve.y))]
    picture = Plot(plot.decades(low, high * ROOM), plot.doublings(values), tuple(drawn))
    legend = [entry(curve, number, glyphs) for number, curve in enumerate(drawn)]
    said = f"Sweep: {item.sweep.verdict}." if item.sweep is not None else ""
    title = "Impedance at the near end in Ω"
    return framed(title, picture, legend, said, width, height, glyphs).rows(width, height, glyphs)


# --- what both have -----------------------------------------------------------------------------------


def entry(curve: Curve, number: int, glyphs: Glyphs) -> tuple[Part, Part]:
    return plot.sample(curve, number, glyphs), (f" {curve.words}", "")


def _bare(branch: Branch) -> str:
    return f"No driver data for {few(branch.undescribed, 3)}: drawn at the nominal impedance."


def _band(branch: Branch, glyphs: Glyphs) -> tuple[Part, Part]:
    low, high = (reading(end, "Hz") for end in band_of(branch.feed))
    whose = f"band of {branch.feed.id}," if branch.feed else "no feed, so"
    return (plot.upright(glyphs.ascii), (f" {whose} {low} to {high}", ""))


def framed(
    title: str,
    picture: Plot,
    legend: Sequence[tuple[Part, Part]],
    said: str,
    width: int,
    height: int,
    glyphs: Glyphs,
) -> Framed:
    """The legend and what is said are cut where they leave the plot no more than `LOW` of the lines."""
    above = [heading(line) for line in wrapped(title, width, glyphs)]
    below = _flowing(legend, width, glyphs)
    below += [words(text) for text in wrapped(said, width, glyphs)] if said else []
    most = max(height - len(above) - LOW, height // 4, 1)
    if len(below) > most:
        *parts, (text, style) = below[most - 1].parts
        room = width - sum(len(before) for before, _ in parts)
        below[most - 1 :] = [
            below[most - 1]._replace(parts=(*parts, (cut(f"{text} …", room, glyphs), style)))
        ]
    return Framed(above, picture, below)


def _side_by_side(views: Sequence[Framed], width: int, height: int, glyphs: Glyphs) -> list[Row]:
    """Two views, their plots on the same lines."""
    above, below = (
        max(len(rows) for rows in parts) for parts in zip(*((v.above, v.below) for v in views), strict=True)
    )
    left, right = (
        view._replace(
            above=view.above + [words("")] * (above - len(view.above)),
            below=view.below + [words("")] * (below - len(view.below)),
        ).rows(width, height, glyphs)
        for view in views
    )
    return [
        Row((*one.parts, (" " * (width + GAP - width_of(one)), ""), *other.parts), selectable=False)
        for one, other in zip(left, right, strict=True)
    ]


def _flowing(entries: Sequence[tuple[Part, Part]], width: int, glyphs: Glyphs) -> list[Row]:
    """Entries one after another, each whole in a line where it fits in one."""
    lines: list[Row] = []
    for lead, text in entries:
        first, *rest = hanging(lead, text, width, glyphs)
        beside = width_of(lines[-1]) + 3 + width_of(first) if lines and not rest else width + 1
        if beside <= width:
            lines[-1] = first._replace(parts=(*lines[-1].parts, ("   ", ""), *first.parts))
        else:
            lines += [first, *rest]
    return lines


class Drawing(Static):
    """Rows drawn into whatever room there is."""

    DEFAULT_CSS = "Drawing { height: 1fr; }"

    def __init__(self, rows: Callable[[int, int], list[Row]], glyphs: Glyphs) -> None:
        super().__init__(markup=False)
        self.rows, self.glyphs = rows, glyphs

    def on_resize(self) -> None:
        self.draw()

    def draw(self) -> None:
        """Draw it again."""
        self.update(styled(self.rows(*self.size), self.glyphs))


class Graph(Dialog):
    """Impedance and level over frequency. Gives nothing."""

    BINDINGS = [
        Binding("q", "leave", show=False),
        Binding("i", "view('impedance')", "impedance"),
        Binding("l", "view('level')", "level"),
        Binding("b", "view('both')", "both"),
        Binding("k", "view('kick')", "kick"),
        Binding("m", "view('motion')", "motion"),
        Binding("s", "view('sweep')", "sweep"),
        Binding("tab", "next_view", show=False),
        Binding("left", "turn(-1)", show=False),
        Binding("right", "turn(1)", show=False),
    ]

    def __init__(
        self, assessment: Assessed, place: str, glyphs: Glyphs, kept: Assessed | None = None
    ) -> None:
        super().__init__(classes="ascii" if glyphs.ascii else None)
        self.assessment, self.place, self.glyphs, self.kept = assessment, place, glyphs, kept
        self.channels = channels_of(assessment, place)
        self.at = 0
        self.view = ""
        """Which view: as the height allows until a key chooses."""

    def compose(self) -> ComposeResult:
        with Box() as box:
            box.styles.width = box.styles.height = "100%"
            yield Label(self.glyphs.spelt(self._title()), classes="title", id="channel", markup=False)
            yield Drawing(self.rows, self.glyphs)
            yield Hint(*("i impedance", "l level", "b both", "k kick", "m motion", "s sweep"), "esc close")

    def _title(self) -> str:
        if not self.channels:
            return results.title(self.assessment, self.place)
        name = self.channels[self.at]
        count = f" ({self.at + 1} of {len(self.channels)}, left/right)" if len(self.channels) > 1 else ""
        failed = ", failed" if self.assessment.branches[name].result.state == "failed" else ""
        return results.title(self.assessment, name) + failed + count

    def rows(self, width: int, height: int) -> list[Row]:
        """The plots in `width` × `height` cells."""
        if not self.channels:
            named = self.place or "this rig"
            told = (
                f"No channel drives anything at {named}, so there is nothing to plot. "
                "Select a channel, line or cabinet that is patched."
            )
            return [words(text) for text in wrap(told, width)]
        branch = self.assessment.branches[self.channels[self.at]]
        if self.view in ("kick", "motion"):
            return kick(self.assessment, branch, self.place, self.kept, self.view, width, height, self.glyphs)
        if self.view == "sweep":
            return self._sweep(branch, width, height)
        before = self.kept.branches.get(branch.id) if self.kept is not None else None
        view = self._shown(height)

        def one(view: str, width: int, height: int) -> Framed:
            if view == "impedance":
                return impedance(branch, before, width, height, self.glyphs)
            return levels(branch, self.kept, self.place, width, height, self.glyphs)

        if view != "both":
            return one(view, width, height).rows(width, height, self.glyphs)
        if height >= TALL:
            upper = (height - 1) // 2
            stacked = [
                one(each, width, room).rows(width, room, self.glyphs)
                for each, room in zip(VIEWS[:2], (upper, height - 1 - upper), strict=True)
            ]
            return [*stacked[0], words(""), *stacked[1]]
        half = (width - GAP) // 2
        return _side_by_side([one(each, half, height) for each in VIEWS[:2]], half, height, self.glyphs)

    def _sweep(self, branch: Branch, width: int, height: int) -> list[Row]:
        """The sweep of the first line behind a channel that has one; another is drawn where that line is selected."""
        kept = swept(self.assessment, branch, self.place)
        if not kept:
            told = (
                f"No impedance sweep of a line behind {branch.id} yet. "
                "The meter check reads one from a file: i, then s on the line's row."
            )
            return [words(text) for text in wrap(told, width)]
        first, *more = kept
        at = f"{first.test.id} to {first.test.to}"
        said = f"{at}; also of {few([each.test.id for each in more], 2)}: select its line." if more else at
        drawn = sweep(self.assessment.index, first, width, height - 1, self.glyphs)
        return [words(fit(self.glyphs.spelt(said), width)), *drawn]

    def _shown(self, height: int) -> str:
        """The view in so many lines."""
        return self.view or ("both" if height >= TALL else "impedance")

    def action_view(self, view: str) -> None:
        self.view = view
        self.query_one(Drawing).draw()

    def action_next_view(self) -> None:
        shown = self._shown(self.query_one(Drawing).size.height)
        self.action_view(VIEWS[(VIEWS.index(shown) + 1) % len(VIEWS)])

    def action_turn(self, by: int) -> None:
        if self.channels:
            self.at = (self.at + by) % len(self.channels)
            self.query_one("#channel", Label).update(self.glyphs.spelt(self._title()))
            self.query_one(Drawing).draw()
