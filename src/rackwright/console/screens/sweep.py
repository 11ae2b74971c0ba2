"""A measured impedance sweep of a line over its model's curve, in a window of its own. Draws nothing: `graph` does."""

from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Label

from rackwright.console.rows.row import Row
from rackwright.console.screens.graph import Drawing, sweep
from rackwright.console.terminal.glyphs import Glyphs
from rackwright.console.widgets.dialog import Box, Dialog, Hint
from rackwright.engine.meter_check import Checked
from rackwright.model.index import Index


class SweepGraph(Dialog):
    """A sweep over its curve. Gives nothing."""

    BINDINGS = [Binding("q", "leave", show=False), Binding("g", "leave", show=False)]

    def __init__(self, index: Index, item: Checked, glyphs: Glyphs) -> None:
        super().__init__(classes="ascii" if glyphs.ascii else None)
        self.index, self.item, self.glyphs = index, item, glyphs

    def compose(self) -> ComposeResult:
        test = self.item.test
        with Box() as box:
            box.styles.width = box.styles.height = "100%"
            title = f"{test.line} pole pair {test.pair} to {test.to}"
            yield Label(self.glyphs.spelt(title), classes="title", markup=False)
            yield Drawing(self._rows, self.glyphs)
            yield Hint("esc close")

    def _rows(self, width: int, height: int) -> list[Row]:
        return sweep(self.index, self.item, width, height, self.glyphs)
