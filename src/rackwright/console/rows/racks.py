"""The racks pane: each rack as an elevation by rack unit, the amplifiers with their channels; then feeds, circuits, phases.

Draws from the top unit down, as a person stands before the rack.
"""

from collections.abc import Iterator

from rackwright.console.rows.columns import Column, Entry, Table, View
from rackwright.console.rows.row import Part
from rackwright.console.terminal.glyphs import Glyphs
from rackwright.engine import limits, outage
from rackwright.engine.assess import Assessed
from rackwright.engine.channel import Branch
from rackwright.engine.finding import SEVERITIES, Finding, Severity
from rackwright.engine.outage import Outage
from rackwright.model.mains import Circuit, Phase, phases_of
from rackwright.model.racks import Amplifier, Feed, Rack
from rackwright.units import reading, told_apart
from rackwright.units.formatting import signed_db, whole_percent
from rackwright.units.wording import ranged, runs, some

MOST_NAMES = 3
"""Told one by one in a column."""
STATE = 6
"""Cells for how a thing stands: `failed`, a severity, `unused`."""
SEVERITY = 4
"""Cells for a severity."""
_CHANNEL = (Column("Drives", drop=1), Column("Load", right=True), Column("Headroom", right=True))
_FEED = (
    Column("Band"),
    Column("Channels", right=True, drop=1),
    Column("Lim. rms", right=True, drop=2),
    Column("Lim. peak", right=True, drop=2),
)
_CIRCUIT = (
    Column("Phase", drop=2),
    Column("Rating", drop=1),
    Column("Programme", right=True),
    Column("Driven hard", right=True),
    Column("Amplifiers", drop=3),
)
_PHASE = (Column("Programme", right=True), Column("Driven hard", right=True), Column("Circuits", drop=1))
_UNITS = 4
"""Cells for the units that an amplifier takes, and for a channel's number under them."""


def view(assessment: Assessed, glyphs: Glyphs) -> View:
    """The racks, feeds, circuits and phases of the rig."""
    return View(lambda: _tables(assessment, glyphs))


def _tables(assessment: Assessed, glyphs: Glyphs) -> list[Table]:
    rig, marks = assessment.index.rig, Marks(assessment)
    found = [line for rack in rig.racks for line in _rack(rack, assessment, marks)]
    none = Entry("", (("No rack yet. Press a to add one.", ""),))
    tables = [Table("Racks", _CHANNEL, found, glyphs, STATE) if found else Table("", (), (none,), glyphs)]
    if rig.feeds:
        tables.append(
            Table("Feeds", _FEED, (_feed(feed, assessment, marks) for feed in rig.feeds), glyphs, STATE)
        )
    if rig.circuits:
        circuits = (_circuit(circuit, assessment, marks) for circuit in rig.circuits)
        tables.append(Table("Circuits", _CIRCUIT, circuits, glyphs, SEVERITY))
    if len(phases := assessment.index.used_phases) > 1:
        lines = (_phase(phase, assessment, marks) for phase in sorted(phases))
        tables.append(Table("Phases", _PHASE, lines, glyphs, SEVERITY))
    return tables


def _feed(feed: Feed, assessment: Assessed, marks: "Marks") -> Entry:
    count = sum(b.feed is not None and b.feed.id == feed.id for b in assessment.branches.values())
    cells = (
        (f"{feed.band[0]} to {feed.band[1]}", ""),
        (f"{count}", ""),
        *((str(limit) if limit else "–", "") for limit in (feed.limiter_rms, feed.limiter_peak)),
    )
    mark, style = marks.of(feed.id)
    turned = "inverted" if feed.polarity == "inverted" else ""
    return Entry(feed.id, ((feed.id, "head"),), cells, (mark or turned, style))


def _circuit(circuit: Circuit, assessment: Assessed, marks: "Marks") -> Entry:
    result = assessment.circuits[circuit.id]
    dead = outage.at(assessment.index, circuit.id)
    lead, mark = ((circuit.id, "head"),), marks.of(circuit.id)
    if dead and (elsewhere := _elsewhere(dead, circuit.id)):
        return Entry(circuit.id, lead, state=mark, tail=(elsewhere, "failed"))
    cells = (
        (circuit.phase, ""),
        (assessment.index.rig.supply.rated(circuit.breaker, circuit.curve), ""),
        *(
            (whole_percent(share, *limits.LOADINGS) if not dead else "–", "")
            for share in (result.loading, result.loading_heavy)
        ),
        (some(result.amplifiers, MOST_NAMES), "dim"),
    )
    return Entry(circuit.id, lead, cells, mark)


def _phase(phase: Phase, assessment: Assessed, marks: "Marks") -> Entry:
    circuits = assessment.index.circuits.values()
    on_it = [circuit.id for circuit in circuits if phase in phases_of(circuit.phase)]
    result = assessment.phases.get(phase)
    currents = (result.programme_current, result.heavy_current) if result else (None, None)
    cells = (*((reading(current, "A"), "") for current in currents), (runs(on_it), "dim"))
    return Entry(phase, ((phase, "head"),), cells, marks.of(phase))


def _elsewhere(dead: Outage | None, place: str) -> str:
    """What has failed, where that is another thing than the one at `place`."""
    return str(dead) if dead and dead.at != place else ""


class Marks:
    """The word at the end of a place's row: how it has failed, else the gravest severity found exactly there."""

    def __init__(self, assessment: Assessed) -> None:
        self.assessment, self.worst = assessment, worst_by_place(assessment.findings)
        self.failed = {each.at: each.what for each in outage.marked(assessment.index.rig)}

    def of(self, place: str) -> Part:
        """The word for a place, empty where there is nothing to say, and its style."""
        if what := self.failed.get(place):
            return what, "failed"
        severity = self.worst.get(place)
        return (severity, severity) if severity else ("", "")

    def of_channel(self, channel: str) -> Severity | None:
        """The gravest severity found at a channel or at what it drives, as its results list them."""
        driven = self.assessment.driven(channel) if self.assessment.wrong_readings else ()
        found = [self.worst[place] for place in (channel, *driven) if place in self.worst]
        return min(found, key=SEVERITIES.index, default=None)


def worst_by_place(findings: tuple[Finding, ...]) -> dict[str, Severity]:
    """Place → the gravest severity found exactly there; `findings` come gravest first."""
    worst: dict[str, Severity] = {}
    for finding in findings:
        worst.setdefault(finding.at, finding.severity)
    return worst


def _rack(rack: Rack, assessment: Assessed, marks: Marks) -> Iterator[Entry]:
    name = f" {rack.name}" if rack.name else ""
    result = assessment.racks[rack.id]
    used = (f"{result.units_used} of {result.units} units", "dim")
    yield Entry(rack.id, ((f"{rack.id}{name}", "head"),), (), marks.of(rack.id), used, spare=True)
    top = rack.height
    models = assessment.index.amplifier_models
    for amplifier in sorted(rack.amplifiers, key=lambda a: -a.unit):
        height = models[amplifier.model].height
        above = amplifier.unit + height
        if above <= top:
            yield _free(above, top)
        yield from _amplifier(amplifier, height, assessment, marks)
        top = min(top, amplifier.unit - 1)
    if top >= 1:
        yield _free(1, top)


def _free(low: int, high: int) -> Entry:
    return Entry("", ((f"{ranged(low, high):<{_UNITS}} free", "dim"),), depth=1)


def _amplifier(amplifier: Amplifier, height: int, assessment: Assessed, marks: Marks) -> Iterator[Entry]:
    power = outage.of_power(assessment.index, amplifier)
    without = power and amplifier.id not in marks.failed
    circuit = str(power) if without else amplifier.circuit or "no circuit"
    lead = (
        (f"{ranged(amplifier.unit, amplifier.unit + height - 1):<{_UNITS}} ", "dim"),
        (f"{amplifier.id} ", "head"),
        (amplifier.model, ""),
    )
    told = (circuit, "failed" if power else "dim" if amplifier.circuit else "warn")
    yield Entry(amplifier.id, lead, (), marks.of(amplifier.id), told, depth=1)
    for number in range(assessment.index.amplifier_models[amplifier.model].channels):
        yield _channel(assessment.branches[f"{amplifier.id}.{number + 1}"], marks)


def _channel(branch: Branch, marks: Marks) -> Entry:
    number, feed = f"{branch.channel + 1:>{_UNITS - 1}} ", branch.result.feed or "–"
    if dead := branch.result.outage:
        said = marks.failed.get(branch.id) or str(dead)
        return Entry(branch.id, ((number + feed, "failed"),), tail=(said, "failed"), depth=2)
    (label, style), severity = _state(branch), marks.of_channel(branch.id)
    load = branch.result.load_nominal
    ohms = told_apart(load, limits.load_nominal(branch).value, "Ω")[0] if load is not None else ""
    room = min((s.headroom for s in branch.sections if s.headroom is not None), default=None)
    headroom = signed_db(room) if room is not None else ""
    cabinets = [*dict.fromkeys(section.cabinet for section in branch.sections)]
    # in words how many more would cost the column
    more = f" +{len(cabinets) - MOST_NAMES}" if len(cabinets) > MOST_NAMES else ""
    drives = ", ".join(cabinets[:MOST_NAMES]) + more
    cells = ((drives, ""), (ohms, ""), (headroom, ""))
    return Entry(
        branch.id, ((number, style), (feed, "")), cells, (severity or label, severity or style), depth=2
    )


def _state(branch: Branch) -> tuple[str, str]:
    """The word for what a channel is doing, empty where nothing is to be said of it, and its style."""
    if branch.second_of_bridge:
        return "bridged", "dim"
    if not branch.sections:
        return "unused", "note"
    if branch.feed is None:
        return "no feed", "warn"
    return {"dual": "", "parallel": "parallel", "bridged": "bridged"}[branch.mode], ""
