"""Amplifiers on the move: the racks as they would look, the arrows trying units and racks, enter to take one."""

from collections.abc import Sequence

from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Label

from rackwright.console.rows.row import Row, heading, words
from rackwright.console.terminal.glyphs import Glyphs
from rackwright.console.widgets.dialog import Box, Dialog, Hint
from rackwright.console.widgets.pane import Pane
from rackwright.engine.assess import Assessed
from rackwright.model import edits
from rackwright.model.racks import Rack
from rackwright.units.wording import few

SHOWN = 14
"""Units seen at once."""


class AmplifierPosition(Dialog):
    """Up and down try units, left and right racks. Gives (rack, unit), None where it was left."""

    BINDINGS = [
        Binding("up", "climb(1)", show=False),
        Binding("down", "climb(-1)", show=False),
        Binding("left", "change_rack(-1)", show=False),
        Binding("right", "change_rack(1)", show=False),
        Binding("enter", "take", "take", priority=True),
    ]

    def __init__(self, assessment: Assessed, amplifiers: Sequence[str], glyphs: Glyphs) -> None:
        super().__init__()
        self.index, self.glyphs = assessment.index, glyphs
        self.offsets = edits.units_from(assessment.index.rig, amplifiers, 0)
        self.lowest = next(iter(self.offsets))
        self.height = max(unit + self._height(name) for name, unit in self.offsets.items())
        self.racks = list(self.index.racks.values())
        self.at = [rack.id for rack in self.racks].index(self.index.rack_of[self.lowest].id)
        self.unit = self.index.amplifiers[self.lowest].unit

    def _height(self, amplifier: str) -> int:
        return self.index.amplifier_models[self.index.amplifiers[amplifier].model].height

    def compose(self) -> ComposeResult:
        with Box():
            yield Label(f"Move {few(list(self.offsets))}", classes="title", markup=False)
            pane = Pane("", self.glyphs, "elevation")
            pane.can_focus, pane.styles.height = False, SHOWN + 1
            yield pane
            yield Hint("up/down unit", "left/right rack", "enter move", "esc close")

    def on_mount(self) -> None:
        self._draw()

    def _draw(self) -> None:
        self.query_one(Pane).show(self._rows, nth=0)

    def _others(self, rack: Rack) -> dict[int, str]:
        return {
            unit: other.id
            for other in rack.amplifiers
            if other.id not in self.offsets
            for unit in range(other.unit, other.unit + self._height(other.id))
        }

    def _rows(self, _width: int) -> list[Row]:
        rack = self.racks[self.at]
        others = self._others(rack)
        mine = {
            self.unit + at + unit: name
            for name, at in self.offsets.items()
            for unit in range(self._height(name))
        }
        top = max(rack.height, *mine)
        first = min(max(self.unit + SHOWN // 2, SHOWN), top)
        rows = [heading(f"{rack.id} {rack.name}")]
        for unit in range(first, max(0, first - SHOWN), -1):
            other = others.get(unit, "")
            if name := mine.get(unit):
                clash = f"  clashes with {other}" if other else "  over the top" if unit > rack.height else ""
                style = "stop" if clash else "here"
                rows.append(Row(((f"{unit:>4}  {name}{clash}", style),), "", unit == max(mine)))
            else:
                rows.append(words(f"{unit:>4}  {other or self.glyphs.dot}", "" if other else "dim"))
        return rows

    def action_climb(self, by: int) -> None:
        self.unit = min(max(1, self.unit + by), max(1, self.racks[self.at].height - self.height + 1))
        self._draw()

    def action_change_rack(self, by: int) -> None:
        self.at = (self.at + by) % len(self.racks)
        self.action_climb(0)

    def action_take(self) -> None:
        self.dismiss((self.racks[self.at].id, self.unit))
