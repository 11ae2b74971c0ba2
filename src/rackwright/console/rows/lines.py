"""The lines pane: a tree from each rack socket through lines and links to every section.

Draws the wiring as the crew walks it. Cabinets that no line leads to come last.
"""

from collections.abc import Iterator

from rackwright.console.rows.racks import Marks, size
from rackwright.console.rows.row import Row, fit, heading
from rackwright.console.terminal.glyphs import Glyphs
from rackwright.engine.assess import Assessed
from rackwright.engine.results import SectionResult
from rackwright.model.index import pole_or_none
from rackwright.model.lines import Cabinet, Line
from rackwright.model.places import LinePair, PolePair
from rackwright.model.racks import Pole, Socket
from rackwright.units import figure, reading


class _Tree:
    """One drawing of the tree."""

    def __init__(self, assessment: Assessed, width: int, glyphs: Glyphs) -> None:
        self.assessment, self.index = assessment, assessment.index
        self.width, self.glyphs = width, glyphs
        self.marks = Marks(assessment)

    def socket(self, socket: Socket) -> Iterator[Row]:
        connector = self.index.connector_models[socket.connector]
        yield self._row("", socket.id, f" {connector.id}", socket.id, style="head")
        lines = self.index.lines_from.get(socket.id, [])
        for pair in range(connector.pole_pairs):
            pole = pole_or_none(socket.pole(pair))
            last = pair == connector.pole_pairs - 1 and not lines
            yield self._pole(socket, pair, pole, last)
        yield from self._lines(lines, "")

    def _pole(self, socket: Socket, pair: int, pole: Pole | None, last: bool) -> Row:
        place = str(PolePair(socket.id, pair))
        if pole is None:
            words, style = "not wired", "dim"
        else:
            branch = self.assessment.branches[pole.name]
            feed = branch.result.feed or "no feed"
            reverse = "  reversed" if pole.sign < 0 else ""
            dead = branch.result.outage
            why = "" if dead is None else f"  {dead.what if dead.at == branch.id else dead}"
            words, style = f"{pole.name}  {feed}{reverse}{why}", "failed" if why else ""
        lead = self.glyphs.corner if last else self.glyphs.tee
        return self._row(lead, f"{pair + 1}", f"  {words}", place, style=style or "lit", rest_style=style)

    def _lines(self, lines: list[Line], lead: str) -> Iterator[Row]:
        for number, line in enumerate(lines):
            last = number == len(lines) - 1
            yield self._line(line, lead + (self.glyphs.corner if last else self.glyphs.tee))
            below = lead + (self.glyphs.gap if last else self.glyphs.bar)
            for pair in line.failed_pairs:
                yield self._row(
                    below + self.glyphs.tee, str(LinePair(line.id, pair - 1)), "", f"{line.id}/{pair}"
                )
            yield from self.cabinet(self.index.cabinets[line.to], below)

    def _line(self, line: Line, lead: str) -> Row:
        cores = f" ×{line.cores_per_pole}" if line.cores_per_pole > 1 else ""
        poles = f" poles {' '.join(map(str, line.poles))}" if line.poles else ""
        return self._row(
            lead, line.id, f" {line.cable}{cores} {line.length}{poles}", line.id, rest_style="dim"
        )

    def cabinet(self, cabinet: Cabinet, lead: str) -> Iterator[Row]:
        model = self.index.loudspeaker_models[cabinet.model]
        links = self.index.lines_from.get(cabinet.id, [])
        wiring = f" {cabinet.wiring}" if cabinet.wiring else ""
        yield self._row(lead, cabinet.id, f" {model.id}{wiring}", cabinet.id, style="head", rest_style="dim")
        for number, section in enumerate(model.sections):
            last = number == len(model.sections) - 1 and not links
            branch = self.glyphs.corner if last else self.glyphs.tee
            yield self._section(self.assessment.sections[f"{cabinet.id}.{section.id}"], lead + branch)
        yield from self._lines(links, lead)

    def _section(self, section: SectionResult, lead: str) -> Row:
        if section.channel is None:
            why = self.assessment.silence(section.id)
            own = why.startswith(f"{section.id} ")
            words, style = "silent" if own else f"silent: {why}", "failed"
        else:
            sign = "+" if section.polarity == 1 else "−"
            loss = f"{section.loss or 0:.1f}"
            damping = f" D {figure(section.damping_factor or 0, 2)}" if section.kind == "low" else ""
            words, style = f"{sign} {section.channel} {reading(section.power, 'W')} −{loss} dB{damping}", ""
        return self._row(lead, section.section, f" {words}", section.id, style="", rest_style=style)

    def _row(
        self, lead: str, name: str, rest: str, place: str, *, style: str = "lit", rest_style: str = ""
    ) -> Row:
        mark = self.marks.of(place)
        room = self.width - len(lead) - len(name) - size(mark)
        return Row(((lead, "dim"), (name, style), (fit(rest, room), rest_style), *mark), place)


def rows(assessment: Assessed, width: int, glyphs: Glyphs) -> list[Row]:
    tree, index = _Tree(assessment, width, glyphs), assessment.index
    found = [row for rack in index.rig.racks for socket in rack.sockets for row in tree.socket(socket)]
    loose = [cabinet for cabinet in index.rig.cabinets if cabinet.id not in index.line_to]
    if loose:
        found.append(heading("Not connected"))
        found += [row for cabinet in loose for row in tree.cabinet(cabinet, "")]
    if not found:
        return [Row((("No socket yet. Select a rack, then press a.", "dim"),), selectable=False)]
    return found
