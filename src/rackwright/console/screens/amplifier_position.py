"""Amplifiers on the move: the racks as they would look, the arrows trying units and racks, enter to take one."""

from collections.abc import Iterator, Sequence

from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Label

from rackwright.console.rows.row import Part, Row, cut
from rackwright.console.terminal.glyphs import Glyphs
from rackwright.console.widgets.dialog import Box, Dialog, Hint
from rackwright.console.widgets.pane import Pane
from rackwright.engine.assess import Assessed
from rackwright.model import edits
from rackwright.model.racks import Rack
from rackwright.units.wording import few

SHOWN = 14
"""Units seen at once."""
COLUMN, MOST = 26, 40
"""Cells of a rack: at the least, and at the most."""


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
            yield Label(classes="title", markup=False)
            pane = Pane("", self.glyphs, "elevation")
            pane.can_focus = False
            yield pane
            racks = ("left/right rack",) if len(self.racks) > 1 else ()
            yield Hint("up/down unit", *racks, "enter move", "esc close")

    def on_mount(self) -> None:
        self._draw()

    def _draw(self) -> None:
        pane = self.query_one(Pane)
        pane.styles.height = 1 + min(SHOWN, self._top)
        pane.show(self._rows)
        among = f", rack {self.at + 1} of {len(self.racks)}" if len(self.racks) > 1 else ""
        self.query_one(Label).update(f"Move {few(list(self.offsets))}{among}")

    @property
    def _mine(self) -> dict[int, str]:
        """Unit → which of those on the move would stand there."""
        return {
            self.unit + at + unit: name
            for name, at in self.offsets.items()
            for unit in range(self._height(name))
        }

    @property
    def _top(self) -> int:
        return max(*self._mine, *(rack.height for rack in self.racks))

    def _rows(self, width: int) -> list[Row]:
        """The racks beside one another on one floor, as many as there is room for, that which is tried among them."""
        many = min(len(self.racks), max(1, width // COLUMN))
        left = min(max(0, self.at - many // 2), len(self.racks) - many)
        shown, room = self.racks[left : left + many], min(MOST, width // many)
        first = min(max(self.unit + SHOWN // 2, SHOWN), self._top)
        columns = (self._column(rack, range(first, max(0, first - SHOWN), -1), room) for rack in shown)
        names = tuple(
            (f"{cut(f'{rack.id} {rack.name}', room - 1, self.glyphs)} ", "head" if rack is self.racks[self.at] else "dim")
            for rack in shown
        )  # fmt: skip
        lines = (names, *(sum(line, ()) for line in zip(*columns, strict=True)))
        return [Row(parts, selectable=False) for parts in lines]

    def _column(self, rack: Rack, units: Sequence[int], room: int) -> Iterator[tuple[Part, ...]]:
        """Units of a rack, each in so many cells."""
        mine = self._mine if rack is self.racks[self.at] else {}
        others = {
            unit: other
            for other in rack.amplifiers
            if other.id not in self.offsets
            for unit in range(other.unit, other.unit + self._height(other.id))
        }
        for unit in units:
            other, style = others.get(unit), ""
            if name := mine.get(unit):
                clash = (
                    f" clashes with {other.id}" if other else " over the top" if unit > rack.height else ""
                )
                model = f" {self.index.amplifiers[name].model}" if unit == max(mine) else ""
                text, style = f"{name}{clash or model}", "stop" if clash else "here"
            elif other:
                text = other.id if others.get(unit + 1) is other else f"{other.id} {other.model}"
            else:
                text, style = self.glyphs.dot, "dim"
            told = f"{unit:>2} {text}" if name or unit <= rack.height else ""
            here = self.glyphs.cursor if name and unit == max(mine) else " "
            yield (f"{here} ", ""), (cut(told, room - 3, self.glyphs), style), (" ", "")

    def action_climb(self, by: int) -> None:
        self.unit = min(max(1, self.unit + by), max(1, self.racks[self.at].height - self.height + 1))
        self._draw()

    def action_change_rack(self, by: int) -> None:
        self.at = (self.at + by) % len(self.racks)
        self.action_climb(0)

    def action_take(self) -> None:
        self.dismiss((self.racks[self.at].id, self.unit))
