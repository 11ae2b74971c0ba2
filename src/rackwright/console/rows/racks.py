"""The racks pane: each rack as an elevation by rack unit, the amplifiers with their channels; then feeds and circuits.

Draws from the top unit down, as a person stands before the rack.
"""

from collections.abc import Iterator

from rackwright.console.rows.row import Part, Row, fit, heading, words
from rackwright.console.terminal.glyphs import Glyphs
from rackwright.engine.assess import Assessed
from rackwright.engine.channel import Branch
from rackwright.engine.results import Finding, Severity
from rackwright.model.rig import Amplifier, Circuit, Feed, Rack
from rackwright.units import figure
from rackwright.units.formatting import whole_percent


def rows(assessment: Assessed, width: int, glyphs: Glyphs) -> list[Row]:
    rig = assessment.index.rig
    worst = worst_by_place(assessment.findings)
    found = [row for rack in rig.racks for row in _rack(rack, assessment, width, glyphs, worst)]
    if not found:
        found = [words("No rack yet. Press a to add one.", "dim")]
    if rig.feeds:
        found += [words(""), heading("Feeds"), *(_feed(feed, assessment, width, worst) for feed in rig.feeds)]
    if rig.circuits:
        circuits = (_circuit(circuit, assessment, width, worst) for circuit in rig.circuits)
        found += [words(""), heading("Circuits"), *circuits]
    return found


def _feed(feed: Feed, assessment: Assessed, width: int, worst: dict[str, Severity]) -> Row:
    count = sum(b.feed is not None and b.feed.id == feed.id for b in assessment.branches.values())
    turned = "  inverted" if feed.polarity == "inverted" else ""
    severity = worst.get(feed.id)
    told = f" {feed.band[0]} to {feed.band[1]}{turned}"
    room = width - len(feed.id) - 13 - (5 if severity else 0)
    playing = f"{count} channel{'' if count == 1 else 's'}"
    return Row(
        ((feed.id, "head"), (fit(told, room), ""), (f"{playing:>13}", "dim"), *mark(severity)), feed.id
    )


def _circuit(circuit: Circuit, assessment: Assessed, width: int, worst: dict[str, Severity]) -> Row:
    result, severity = assessment.circuits[circuit.id], worst.get(circuit.id)
    told = f" {circuit.phase} {circuit.breaker} {circuit.curve}"
    loading = (
        f"{whole_percent(result.loading)}, hard {whole_percent(result.loading_heavy)}"
        if result.live
        else "failed"
    )
    room = width - len(circuit.id) - 18 - (5 if severity else 0)
    return Row(
        ((circuit.id, "head"), (fit(told, room), ""), (f"{loading:>18}", ""), *mark(severity)), circuit.id
    )


def worst_by_place(findings: tuple[Finding, ...]) -> dict[str, Severity]:
    """Place → the gravest severity found exactly there; `findings` come gravest first."""
    worst: dict[str, Severity] = {}
    for finding in findings:
        worst.setdefault(finding.at, finding.severity)
    return worst


def mark(severity: Severity | None) -> tuple[Part, ...]:
    """The word for a severity, nothing where there is none."""
    return ((f" {severity}", severity),) if severity else ()


def _rack(
    rack: Rack, assessment: Assessed, width: int, glyphs: Glyphs, worst: dict[str, Severity]
) -> Iterator[Row]:
    name = f" {rack.name}" if rack.name else ""
    result = assessment.racks[rack.id]
    yield Row(
        (
            (fit(f"{rack.id}{name}", width - 13 - (5 if rack.id in worst else 0)), "head"),
            (f"{f'{result.units_used} of {result.units} units':>13}", "dim"),
            *mark(worst.get(rack.id)),
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
        yield from _amplifier(amplifier, height, assessment, width, worst)
        top = min(top, amplifier.unit - 1)
    if top >= 1:
        yield _free(1, top)


def _span(low: int, high: int) -> str:
    return f"{low}" if low == high else f"{low}–{high}"


def _free(low: int, high: int) -> Row:
    return Row(((f"{_span(low, high):<6} free", "dim"),), selectable=False)


def _amplifier(
    amplifier: Amplifier, height: int, assessment: Assessed, width: int, worst: dict[str, Severity]
) -> Iterator[Row]:
    circuit = amplifier.circuit or "no circuit"
    room = width - 8 - len(amplifier.id) - 2 - len(circuit) - (5 if amplifier.id in worst else 0)
    yield Row(
        (
            (f"{_span(amplifier.unit, amplifier.unit + height - 1):<6} ", "dim"),
            (f"{amplifier.id} ", "head"),
            (fit(amplifier.model, room) + " ", ""),
            (circuit, "dim" if amplifier.circuit else "warn"),
            *mark(worst.get(amplifier.id)),
        ),
        amplifier.id,
    )
    for number in range(assessment.index.amplifier_models[amplifier.model].channels):
        branch = assessment.branches[f"{amplifier.id}.{number + 1}"]
        yield _channel(branch, width, worst.get(branch.id))


def _channel(branch: Branch, width: int, severity: Severity | None) -> Row:
    label, style = _state(branch)
    struck = style if style == "failed" else ""
    load = f"{figure(branch.result.load_nominal)} Ω" if branch.result.load_nominal is not None else ""
    room = min((s.headroom for s in branch.sections if s.headroom is not None), default=None)
    headroom = f"{room:+.1f} dB".replace("-", "−") if room is not None else ""
    feed = fit(branch.result.feed or "–", max(6, width - 32))
    return Row(
        (
            (f"{branch.channel + 1:>5} ", style),
            (f"{feed} ", struck),
            (f"{load:>7} ", struck),
            (f"{headroom:>8} " if not struck else "         ", "dim"),
            (
                severity if severity and not struck else f"{label:<7}",
                severity if severity and not struck else style,
            ),
        ),
        branch.id,
    )


def _state(branch: Branch) -> tuple[str, str]:
    """The word for what a channel is doing, empty where nothing is to be said of it, and its style."""
    if branch.result.state == "failed":
        return "failed", "failed"
    if branch.second_of_bridge:
        return "bridged", "dim"
    if not branch.sections:
        return "unused", "note"
    if branch.feed is None:
        return "no feed", "warn"
    return {"dual": "", "parallel": "paral.", "bridged": "bridged"}[branch.mode], ""
