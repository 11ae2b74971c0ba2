"""The lines pane: a tree from each rack socket through lines and links to every section.

Draws the wiring as the crew walks it. Cabinets that no line leads to come last.
"""

from collections.abc import Iterator

from rackwright.console.rows.columns import NOTHING, Column, Entry, Table, View
from rackwright.console.rows.racks import SEVERITY, Marks
from rackwright.console.rows.row import Part
from rackwright.console.terminal.glyphs import Glyphs
from rackwright.engine import limits
from rackwright.engine.assess import Assessed
from rackwright.engine.results import SectionResult
from rackwright.model.index import pole_or_none
from rackwright.model.lines import Cabinet, Line
from rackwright.model.places import LinePair, PolePair
from rackwright.model.racks import Pole, Socket
from rackwright.units import reading, told_apart
from rackwright.units.formatting import fixed

_COLUMNS = (
    Column("Amp"),
    Column("Feed", drop=1),
    Column("Full", right=True),
    Column("Loss", right=True),
    Column("DF", right=True),
    Column("Position", drop=2),
)


class _Tree:
    """One drawing of the tree."""

    def __init__(self, assessment: Assessed, glyphs: Glyphs) -> None:
        self.assessment, self.index, self.glyphs = assessment, assessment.index, glyphs
        self.marks = Marks(assessment)
        self.checked = {item.test.id: item.status for item in assessment.wrong_readings}

    def socket(self, socket: Socket) -> Iterator[Entry]:
        connector = self.index.connector_models[socket.connector]
        yield self._line(0, "", (socket.id, "head"), (f" {connector.id}", ""), socket.id)
        lines = self.index.lines_from.get(socket.id, [])
        for pair in range(connector.pole_pairs):
            pole = pole_or_none(socket.pole(pair))
            last = pair == connector.pole_pairs - 1 and not lines
            yield self._pole(socket, pair, pole, last)
        yield from self._wires(lines, "", 1)

    def _pole(self, socket: Socket, pair: int, pole: Pole | None, last: bool) -> Entry:
        place = str(PolePair(socket.id, pair))
        lead = self.glyphs.corner if last else self.glyphs.tee
        if pole is None:
            name = (f"{pair + 1}", "dim")
            return self._line(1, lead, name, NOTHING, place, tail=("not wired", "dim"))
        branch = self.assessment.branches[pole.name]
        dead = branch.result.outage
        style = "failed" if dead else ""
        feed = branch.result.feed
        words = ["reversed"] if pole.sign < 0 else []
        words += [] if feed else ["no feed"]
        words += [dead.what if dead.at == branch.id else str(dead)] if dead else []
        cells = (pole.name, style), (feed or "", style), *[NOTHING] * 4
        name = (f"{pair + 1}", style or "lit")
        return self._line(1, lead, name, NOTHING, place, cells, (", ".join(words), style))

    def _wires(self, lines: list[Line], lead: str, depth: int) -> Iterator[Entry]:
        for number, line in enumerate(lines):
            last = number == len(lines) - 1
            yield self._wire(line, lead + (self.glyphs.corner if last else self.glyphs.tee), depth)
            below = lead + (self.glyphs.gap if last else self.glyphs.bar)
            count = max(self.index.near_connector(line).pole_pairs, *line.failed_pairs, 0)
            pairs = [str(LinePair(line.id, number)) for number in range(count)]
            marked = [pair for pair in pairs if self.marks.of(pair)[0]]
            for pair in marked:  # the cabinet stands under the line without a sign
                sign = self.glyphs.corner if pair == marked[-1] else self.glyphs.tee
                yield self._pair(pair, below + sign, depth + 1)
            yield from self.cabinet(self.index.cabinets[line.to], below, depth + 1)

    def _pair(self, place: str, lead: str, depth: int) -> Entry:
        status = self.checked.get(place)
        tail = (f"{status} by the meter check" if status else "", "")
        return self._line(
            depth, lead, (f"pole pair {place.rpartition('/')[2]}", "lit"), NOTHING, place, tail=tail
        )

    def _wire(self, line: Line, lead: str, depth: int) -> Entry:
        cores = f" ×{line.cores_per_pole}" if line.cores_per_pole > 1 else ""
        moved = (f"{far} from {near}" for far, near in enumerate(line.poles, 1) if far != near)
        crossed = f" crossed: {poles}" if (poles := ", ".join(moved)) else ""
        told = f" {line.cable}{cores} {line.length}{crossed}"
        return self._line(depth, lead, (line.id, "lit"), (told, "dim"), line.id)

    def cabinet(self, cabinet: Cabinet, lead: str, depth: int = 0) -> Iterator[Entry]:
        model = self.index.loudspeaker_models[cabinet.model]
        links = self.index.lines_from.get(cabinet.id, [])
        wiring = f" {cabinet.wiring}" if cabinet.wiring else ""
        cells = (*[NOTHING] * 5, (cabinet.position, "dim"))
        yield self._line(
            depth, lead, (cabinet.id, "head"), (f" {model.id}{wiring}", "dim"), cabinet.id, cells
        )
        for number, section in enumerate(model.sections):
            last = number == len(model.sections) - 1 and not links
            branch = self.glyphs.corner if last else self.glyphs.tee
            result = self.assessment.sections[f"{cabinet.id}.{section.id}"]
            yield self._section(result, lead + branch, depth + 1)
        yield from self._wires(links, lead, depth + 1)

    def _section(self, section: SectionResult, lead: str, depth: int) -> Entry:
        if section.channel is None:
            why = self.assessment.silence(section.id)
            told = "silent" if why.startswith(f"{section.id} ") else f"silent: {why}"
            return self._line(depth, lead, (section.section, ""), NOTHING, section.id, tail=(told, "failed"))
        branch = self.assessment.branches[section.channel]
        accepted = limits.damping_factor(branch).value
        damping = told_apart(section.damping_factor or 0.0, accepted, "", 2)[0]
        loss = fixed(section.loss or 0.0, 2, limits.loss(branch).value)
        figures = (
            branch.result.feed or "",
            reading(section.power, "W"),
            f"{loss} dB",
            damping if section.kind == "low" else "",
        )
        # as a rig file has it: a word would take the room of a pane at each press of r
        reverse = "" if section.polarity == 1 else "−"
        cells = tuple((text, "") for text in (f"{reverse}{section.channel}", *figures, ""))
        return self._line(depth, lead, (section.section, ""), NOTHING, section.id, cells)

    def _line(
        self,
        depth: int,
        lead: str,
        name: Part,
        rest: Part,
        place: str,
        cells: tuple[Part, ...] = (),
        tail: Part = NOTHING,
    ) -> Entry:
        return Entry(place, ((lead, "dim"), name, rest), cells, self.marks.of(place), tail, depth=depth)


def view(assessment: Assessed, glyphs: Glyphs) -> View:
    """The tree from the rack sockets, and what no line leads to."""
    return View(lambda: _tables(assessment, glyphs))


def _tables(assessment: Assessed, glyphs: Glyphs) -> list[Table]:
    tree, index = _Tree(assessment, glyphs), assessment.index
    found = [line for rack in index.rig.racks for socket in rack.sockets for line in tree.socket(socket)]
    loose = [cabinet for cabinet in index.rig.cabinets if cabinet.id not in index.line_to]
    tables = [Table("Lines", _COLUMNS, found, glyphs, SEVERITY)] if found else []
    if loose:
        unreached = (line for cabinet in loose for line in tree.cabinet(cabinet, ""))
        tables.append(Table("Not connected", (), unreached, glyphs, SEVERITY))
    none = Entry("", (("No socket yet. Select a rack, then press a.", ""),))
    return tables or [Table("", (), (none,), glyphs)]
