"""A measured impedance sweep of a line, drawn over its model's curve. Computes neither curve nor verdict."""

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.events import Resize
from textual.widgets import Label, Static

from rackwright.console.rows import plot
from rackwright.console.rows.plot import Curve, Plot
from rackwright.console.rows.row import Row
from rackwright.console.screens.graph import entry, framed
from rackwright.console.terminal.glyphs import Glyphs
from rackwright.console.widgets.dialog import Dialog, styled
from rackwright.engine.loudspeaker import frequencies
from rackwright.engine.meter_check import Checked, modulus
from rackwright.model.index import Index

ROOM = 1.3
"""How far the axis goes on past the last point, as a factor: its last mark needs the place."""


def rows(index: Index, item: Checked, width: int, height: int, glyphs: Glyphs) -> list[Row]:
    """The sweep of a pole pair and the model's curve, with what differs."""
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
    title = "Impedance at the near end in Ω, over frequency in Hz"
    return framed(title, picture, legend, said, width, height, glyphs, max(1, height // 3))


class SweepGraph(Dialog):
    """A sweep over its curve. Gives nothing."""

    BINDINGS = [Binding("q", "leave", show=False), Binding("g", "leave", show=False)]

    def __init__(self, index: Index, item: Checked, glyphs: Glyphs) -> None:
        super().__init__(classes="ascii" if glyphs.ascii else None)
        self.index, self.item, self.glyphs = index, item, glyphs

    def compose(self) -> ComposeResult:
        test = self.item.test
        with Vertical(classes="box") as box:
            box.styles.width = box.styles.height = "100%"
            title = f"{test.line} pole pair {test.pair} to {test.to}"
            yield Label(self.glyphs.spelt(title), classes="title", markup=False)
            drawing = Static("", id="drawing", markup=False)
            drawing.styles.height = "1fr"
            yield drawing
            yield Label("esc close", classes="hint")

    def on_resize(self, event: Resize) -> None:
        drawn = rows(self.index, self.item, event.size.width - 4, event.size.height - 6, self.glyphs)
        self.query_one("#drawing", Static).update(styled(drawn, self.glyphs))
