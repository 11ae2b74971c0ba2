"""The racks pane: each rack as an elevation by rack unit, the amplifiers with their channels; then feeds, circuits, phases.

Draws from the top unit down, as a person stands before the rack.
"""

from collections.abc import Iterator

from rackwright.console.rows.row import Part, Row, fit, heading, words
from rackwright.console.terminal.glyphs import Glyphs
from rackwright.engine import outage
from rackwright.engine.assess import Assessed
from rackwright.engine.channel import Branch
from rackwright.engine.finding import Finding, Severity
from rackwright.engine.outage import Outage
from rackwright.model.mains import Circuit, Phase, phases_of
from rackwright.model.racks import Amplifier, Feed, Rack
from rackwright.units import figure, reading
from rackwright.units.formatting import whole_percent


def rows(assessment: Assessed, width: int, glyphs: Glyphs) -> list[Row]:
    rig = assessment.index.rig
    marks = Marks(assessment)
    found = [row for rack in rig.racks for row in _rack(rack, assessment, width, glyphs, marks)]
    if not found:
        found = [words("No rack yet. Press a to add one.", "dim")]
    if rig.feeds:
        found += [words(""), heading("Feeds"), *(_feed(feed, assessment, width, marks) for feed in rig.feeds)]
    if rig.circuits:
        circuits = (_circuit(circuit, assessment, width, marks) for circuit in rig.circuits)
        found += [words(""), heading("Circuits"), *circuits]
    if len(phases := assessment.index.used_phases) > 1:
        lines = (_phase(phase, assessment, width, marks) for phase in sorted(phases))
        found += [words(""), heading("Phases"), *lines]
    return found


def _feed(feed: Feed, assessment: Assessed, width: int, marks: "Marks") -> Row:
    count = sum(b.feed is not None and b.feed.id == feed.id for b in assessment.branches.values())
    turned = "  inverted" if feed.polarity == "inverted" else ""
    mark = marks.of(feed.id)
    told = f" {feed.band[0]} to {feed.band[1]}{turned}"
    room = width - len(feed.id) - 13 - size(mark)
    playing = f"{count} channel{'' if count == 1 else 's'}"
    return Row(((feed.id, "head"), (fit(told, room), ""), (f"{playing:>13}", "dim"), *mark), feed.id)


def _circuit(circuit: Circuit, assessment: Assessed, width: int, marks: "Marks") -> Row:
    result, mark = assessment.circuits[circuit.id], marks.of(circuit.id)
    dead = outage.at(assessment.index, circuit.id)
    told = f" {circuit.phase} {assessment.index.rig.supply.rated(circuit.breaker, circuit.curve)}"
    loading = f"{whole_percent(result.loading)}, hard {whole_percent(result.loading_heavy)}"
    carried = (f"{loading:>18}", "") if dead is None else (f"{_elsewhere(dead, circuit.id):>18}", "failed")
    room = width - len(circuit.id) - 18 - size(mark)
    return Row(((circuit.id, "head"), (fit(told, room), ""), carried, *mark), circuit.id)


def _phase(phase: Phase, assessment: Assessed, width: int, marks: "Marks") -> Row:
    circuits = assessment.index.circuits.values()
    on_it = [circuit.id for circuit in circuits if phase in phases_of(circuit.phase)]
    mark, result = marks.of(phase), assessment.phases.get(phase)
    loading = (
        f"{reading(result.programme_current, 'A')}, hard {reading(result.heavy_current, 'A')}"
        if result
        else ""
    )
    room = width - len(phase) - 22 - size(mark)
    return Row(
        ((phase, "head"), (fit(f" {' '.join(on_it)}", room), ""), (f"{loading:>22}", ""), *mark), phase
    )


def _elsewhere(dead: Outage | None, place: str) -> str:
    """What has failed, where that is another thing than the one at `place`."""
    return str(dead) if dead and dead.at != place else ""


class Marks:
    """The word at the end of a place's row: how it has failed, else the gravest severity found exactly there."""

    def __init__(self, assessment: Assessed) -> None:
        self.worst = worst_by_place(assessment.findings)
        self.failed = {each.at: each.what for each in outage.marked(assessment.index.rig)}

    def of(self, place: str) -> tuple[Part, ...]:
        """The word for a place, nothing where there is nothing to say."""
        if what := self.failed.get(place):
            return ((f" {what}", "failed"),)
        return ((f" {severity}", severity),) if (severity := self.worst.get(place)) else ()


def size(mark: tuple[Part, ...]) -> int:
    """Cells that a mark takes."""
    return sum(len(text) for text, _ in mark)


def worst_by_place(findings: tuple[Finding, ...]) -> dict[str, Severity]:
    """Place → the gravest severity found exactly there; `findings` come gravest first."""
    worst: dict[str, Severity] = {}
    for finding in findings:
        worst.setdefault(finding.at, finding.severity)
    return worst


def _rack(rack: Rack, assessment: Assessed, width: int, glyphs: Glyphs, marks: Marks) -> Iterator[Row]:
    mark = marks.of(rack.id)
    name = f" {rack.name}" if rack.name else ""
    result = assessment.racks[rack.id]
    yield Row(
        (
            (fit(f"{rack.id}{name}", width - 13 - size(mark)), "head"),
            (f"{f'{result.units_used} of {result.units} units':>13}", "dim"),
            *mark,
        ),
        rack.id,
    )
    top = rack.height
    models = assessment.index.amplifier_models
    for amplifier in sorted(rack.amplifiers, key=lambda a: -a.unit):
        height = models[amplifier.model].height
        above = amplifier.unit + height
        if above <= top:
            yield _free(above, top)
        yield from _amplifier(amplifier, height, assessment, width, marks)
        top = min(top, amplifier.unit - 1)
    if top >= 1:
        yield _free(1, top)


def _span(low: int, high: int) -> str:
    return f"{low}" if low == high else f"{low}–{high}"


def _free(low: int, high: int) -> Row:
    return Row(((f"{_span(low, high):<6} free", "dim"),), selectable=False)


def _amplifier(
    amplifier: Amplifier, height: int, assessment: Assessed, width: int, marks: Marks
) -> Iterator[Row]:
    mark, power = marks.of(amplifier.id), outage.of_power(assessment.index, amplifier)
    without = power and amplifier.id not in marks.failed
    circuit = str(power) if without else amplifier.circuit or "no circuit"
    room = width - 8 - len(amplifier.id) - 2 - len(circuit) - size(mark)
    yield Row(
        (
            (f"{_span(amplifier.unit, amplifier.unit + height - 1):<6} ", "dim"),
            (f"{amplifier.id} ", "head"),
            (fit(amplifier.model, room) + " ", ""),
            (circuit, "failed" if power else "dim" if amplifier.circuit else "warn"),
            *mark,
        ),
        amplifier.id,
    )
    for number in range(assessment.index.amplifier_models[amplifier.model].channels):
        branch = assessment.branches[f"{amplifier.id}.{number + 1}"]
        yield _channel(branch, width, marks)


def _channel(branch: Branch, width: int, marks: Marks) -> Row:
    if dead := branch.result.outage:
        said = marks.failed.get(branch.id) or str(dead)
        feed = fit(branch.result.feed or "–", max(6, width - 32))
        return Row(
            ((f"{branch.channel + 1:>5} {feed} {fit(said, min(len(said), 25)):>25}", "failed"),), branch.id
        )
    (label, style), severity = _state(branch), marks.worst.get(branch.id)
    load = f"{figure(branch.result.load_nominal)} Ω" if branch.result.load_nominal is not None else ""
    room = min((s.headroom for s in branch.sections if s.headroom is not None), default=None)
    headroom = f"{room:+.1f} dB".replace("-", "−") if room is not None else ""
    feed = fit(branch.result.feed or "–", max(6, width - 32))
    return Row(
        (
            (f"{branch.channel + 1:>5} ", style),
            (f"{feed} ", ""),
            (f"{load:>7} ", ""),
            (f"{headroom:>8} ", "dim"),
            (severity or f"{label:<7}", severity or style),
        ),
        branch.id,
    )


def _state(branch: Branch) -> tuple[str, str]:
    """The word for what a channel is doing, empty where nothing is to be said of it, and its style."""
    if branch.second_of_bridge:
        return "bridged", "dim"
    if not branch.sections:
        return "unused", "note"
    if branch.feed is None:
        return "no feed", "warn"
    return {"dual": "", "parallel": "paral.", "bridged": "bridged"}[branch.mode], ""
