"""The rear panel of the racks: each socket as a box with what is on its pole pairs and the lines that go in.

Drawn beside the racks where a window has room for it: for reading, nothing on it is selected.
"""

from collections.abc import Iterable, Iterator, Sequence, Set

from rackwright.console.rows.columns import Wishes
from rackwright.console.rows.row import Part, Row, heading, words, wrapped
from rackwright.console.terminal.glyphs import Glyphs
from rackwright.engine.assess import Assessed
from rackwright.model.index import pole_or_none
from rackwright.model.places import PolePair
from rackwright.model.racks import Rack, Socket
from rackwright.units.text_table import cells

ABREAST = 2
"""Boxes side by side, where there is room."""
FRAME = 5
"""Cells of a box beside its words."""

Box = tuple[str, Sequence[tuple[str, Part]]]
"""A socket's id, and the words in its box, each with its place."""


class Rear:
    """The rear panels of a rig."""

    def __init__(self, assessment: Assessed, glyphs: Glyphs) -> None:
        self.assessment, self.glyphs = assessment, glyphs
        self._racks = [
            (rack, [(s.id, [*self._words(s)]) for s in rack.sockets]) for rack in assessment.index.rig.racks
        ]
        told = [glyphs.spelt(text) for _, boxes in self._racks for _, box in boxes for _, (text, _) in box]
        self._size = max(map(cells, told), default=0) + FRAME
        two = ABREAST * (self._size + 1) - 1
        self.wishes = Wishes(self._size, self._size, two)

    def _words(self, socket: Socket) -> Iterator[tuple[str, Part]]:
        index = self.assessment.index
        connector = index.connector_models[socket.connector]
        yield socket.id, (f"{socket.id} {connector.id}", "head")
        for pair in range(connector.pole_pairs):
            place = str(PolePair(socket.id, pair))
            if (pole := pole_or_none(socket.pole(pair))) is None:
                yield place, (f"{pair + 1} not wired", "dim")
                continue
            result = self.assessment.branches[pole.name].result
            reverse = " reversed" if pole.sign < 0 else ""
            told = f"{pair + 1} {pole.name} {result.feed or 'no feed'}{reverse}"
            yield place, (told, "failed" if result.outage else "")
        for line in index.lines_from.get(socket.id, ()):
            yield line.id, (f"{self.glyphs.arrow} {line.id} {line.to}", "")

    def rows(self, width: int, place: str, lit: Set[str], only: Set[str] = frozenset()) -> list[Row]:
        """The racks that what is selected is in or on, all where it is in none; what is lit is bold, what is selected reversed.

        With `only`, the sockets among these, where any are.
        """
        narrowed = ((rack, [box for box in boxes if box[0] in only]) for rack, boxes in self._racks)
        racks = [each for each in narrowed if each[1]] or self._racks
        shown = [each for each in racks if _of(each[0]) & {place, *lit}] or racks
        abreast = max(1, (width + 1) // (self._size + 1))
        found: list[Row] = []
        for rack, boxes in shown:
            found += [words("")] if found else []
            found += map(heading, wrapped(f"{rack.id} {rack.name}".strip(), width, self.glyphs, "   "))
            for first in range(0, len(boxes), abreast):
                found += self._abreast(boxes[first : first + abreast], place, lit)
            found += [] if boxes else [words("no socket", "dim")]
        return found

    def _abreast(self, boxes: Sequence[Box], place: str, lit: Set[str]) -> Iterator[Row]:
        corners, rule = self.glyphs.box, self.glyphs.rule * (self._size - 2)
        height = max(len(box) for _, box in boxes)
        yield _row([[(corners[0] + rule + corners[1], "dim")] for _ in boxes])
        for number in range(height):
            yield _row(
                [
                    self._line(box[number] if number < len(box) else ("", ("", "")), place, lit)
                    for _, box in boxes
                ]
            )
        yield _row([[(corners[2] + rule + corners[3], "dim")] for _ in boxes])

    def _line(self, told: tuple[str, Part], place: str, lit: Set[str]) -> list[Part]:
        at, (text, style) = told
        text = self.glyphs.spelt(text)
        look = "here" if at and at == place else style or "lit" if at in lit else style
        room = " " * (self._size - FRAME - cells(text))
        side = self.glyphs.box[4]
        sign = self.glyphs.cursor if look == "here" else self.glyphs.dot if at in lit else " "
        return [(side, "dim"), (f"{sign} ", ""), (text, look), (f"{room} {side}", "dim")]


def _of(rack: Rack) -> set[str]:
    return {rack.id, *(each.id for each in rack.amplifiers), *(each.id for each in rack.sockets)}


def _row(parts: Iterable[Sequence[Part]]) -> Row:
    found: list[Part] = []
    for some in parts:
        found += [(" ", ""), *some] if found else some
    return Row(tuple(found), selectable=False)
