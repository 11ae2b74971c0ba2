"""The meter check on the whole screen: a row for every pole pair, a reading typed on it, judged at once.

What a reading means is `engine.meter_check`'s to say; edits go through the editor, so that undo, journal and locks
hold here as they do there.
"""

import datetime
import os
import re
from collections.abc import Sequence
from functools import partial

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.events import Key
from textual.widgets import Static

from rackwright.console.editor import Editor
from rackwright.console.keymap import Command
from rackwright.console.rows.row import Row, fit, gap_in, in_columns, titles, words
from rackwright.console.screens.sweep import SweepGraph
from rackwright.console.screens.table import BACK, HELP, REDO, UNDO, RigTable, bindings, editing
from rackwright.console.widgets.dialog import Picker, Prompt, styled
from rackwright.console.widgets.fields import Option
from rackwright.console.widgets.pane import Pane
from rackwright.console.widgets.status import Foot, Said
from rackwright.engine import cautions, recovery
from rackwright.engine.meter_check import Checked, PairTest, checked, progress
from rackwright.model import edits
from rackwright.model.night import MINUTE, moment
from rackwright.model.readings import Tick, as_kept, temperature_of
from rackwright.papers.meter_check import limits
from rackwright.store.sweep_file import read_sweep
from rackwright.units import QuantityError, Resistance, Temperature, figure, typeset
from rackwright.units.text_table import wrap

noting = partial(editing, group="Meter check")
"""A key that notes something in the rig."""
ENTER = noting(
    "enter",
    "edit",
    "record",
    "Record the reading typed (ohms, or o for open); where it is as expected, go on",
)
POLARITY = noting(
    "space", "polarity", "polarity", "Polarity: yes (a small battery moves the cone out), no, not tested"
)
HEARD = noting("c", "heard", "heard", "Which driver was heard: of this pole pair, another, not tested")
LEADS = noting("z", "leads", "lead resistance", "Write what the meter shows with its leads touched together; it is subtracted", in_show=True)  # fmt: skip
COIL = noting("t", "coil", "coils", "State how hot the voice coils are, after a show", in_show=True)
SWEEP = noting("s", "sweep", "sweep", "Read an impedance sweep of this pole pair from a file")
GRAPH = Command("g", "graph", "graph", "Plot that sweep over the model's curve", "Meter check", in_show=True)
CLEAR = noting("delete", "clear", "clear", "Clear the reading on this row", shown_key="del")

TYPED = frozenset("0123456789.,oOlLkKmMrRΩ")
"""What a reading is typed with; it begins with a digit, a point, or the o of open."""

NOT_TESTED = "–"
VERDICT = 11
"""Cells for `as expected`."""
TWO = 36
"""Cells for a verdict of two."""
MOST = (12, 4, 10, 14, 9, 16, 10, 8, 10)
"""Cells of the columns before the verdict, at most."""

STYLES = {"not tested": "", "wrong": "stop", "not proved": "warn", "drifted": "warn", "as expected": "ok"}

NEXT: dict[Tick, Tick] = {"": "yes", "yes": "no", "no": ""}
"""What a tick becomes at the next press."""

RIGHT, OTHER, NOBODY = "yes:", "no:", "–:"
"""Answers that no id of a cabinet can be taken for."""

TOLD = 6
"""Lines at most below the list for verdict, faults and next test."""
RIGHT_HAND = ("Expected", "Limits", "Reading")
"""Columns of figures."""


class MeterCheck(RigTable):
    """Every pole pair of every line, walked by keys."""

    KEYS = (ENTER, POLARITY, HEARD, LEADS, COIL, SWEEP, GRAPH, CLEAR, BACK, UNDO, REDO, HELP)
    BINDINGS = bindings(KEYS)

    def __init__(self, editor: Editor) -> None:
        super().__init__("Meter check", editor)
        self.typed = ""
        """The reading being typed, not recorded yet."""
        kept = sorted(self.session.rig.readings, key=lambda reading: reading.when)
        self.lead_resistance = kept[-1].lead_resistance if kept else Resistance.parse("0 ohm")
        self.coils: Temperature | None = None
        """Of the voice coils; that of the air where not stated."""
        self._checked: tuple[object, tuple[Checked, ...]] = (None, ())

    def on_mount(self) -> None:
        if recovery.under_way(self.session.rig):  # the show is on, or was
            self.action_coil()

    def compose(self) -> ComposeResult:
        with Vertical(id="panes"):
            yield Pane(self.heading, self.glyphs, "table")
            told = Static("", id="told")
            told.styles.height = "auto"
            yield told
        yield Said(self.glyphs)
        yield Foot(self.glyphs, "keys")

    @property
    def found(self) -> tuple[Checked, ...]:
        """Every pole pair with what is known of it now."""
        index, coils = state = self.session.assessment.index, self.coils
        if self._checked[0] != state:
            self._checked = (state, checked(index, coils.value if coils is not None else None))
        return self._checked[1]

    @property
    def here(self) -> Checked | None:
        """The pole pair under the cursor."""
        return next((item for item in self.found if item.test.id == self.place), None)

    # --- drawing ---

    def rows(self, width: int) -> Sequence[Row]:
        if not self.found:
            return [words("There is no line to check yet.", "dim")]
        cells = [[*map(self.glyphs.spelt, self._cells(item))] for item in self.found]
        heads = ["Line", "Pair", "From", "To", "Expected", "Limits", "Reading", "Polarity", "Heard"]
        sizes = [
            min(most, max(map(len, (head, *column))))
            for head, column, most in zip(heads, zip(*cells, strict=True), MOST, strict=True)
        ]
        heads, *cells = [
            [
                f"{cell:>{size}}" if head in RIGHT_HAND else cell
                for head, cell, size in zip(heads, row, sizes, strict=True)
            ]
            for row in (heads, *cells)
        ]
        for optional in (2, 5, 4):  # where it starts, limits, expected: told of the row under the cursor
            if sum(size + 2 for size in sizes if size) + VERDICT > width:
                sizes[optional] = 0
        taken = [size for size in sizes if size > 0]
        of_two, of_one = (gap_in(width, sum(taken) + verdict, len(taken) + 1) for verdict in (TWO, VERDICT))
        gap = max(of_two, min(of_one, 2))
        sizes.append(max(0, width - sum(taken) - gap * len(taken)))
        head = in_columns((*heads, "Verdict"), sizes, self.glyphs, gap)
        rows = zip(self.found, cells, strict=True)
        return [titles(head), *(self._row(item, each, sizes, gap) for item, each in rows)]

    def _cells(self, item: Checked) -> tuple[str, ...]:
        test, kept = item.test, item.reading
        polarity, heard = (kept.polarity, " ".join(kept.heard_from) or kept.heard) if kept else ("", "")
        return (
            test.line,
            str(test.pair),
            test.source,
            test.to,
            str(test.expected),
            limits(item).replace("\u00a0", " "),
            self._shown(item),
            polarity or NOT_TESTED,
            heard or NOT_TESTED,
        )

    def _row(self, item: Checked, cells: Sequence[str], sizes: Sequence[int], gap: int) -> Row:
        *sizes, rest = sizes
        text = in_columns(cells, sizes, self.glyphs, gap)
        verdict = "test again" if item.earlier is not None else item.verdict
        if not verdict and item.sweep is not None:
            verdict = "sweep only"
        return Row(((text + " " * gap, ""), (_phrases(verdict, rest), STYLES[item.status])), item.test.id)

    def _shown(self, item: Checked) -> str:
        """What the meter showed, or what is being typed of it."""
        if self.typed and item.test.id == self.place:
            return f"{self.typed}_"
        return typeset(item.reading.ohms) if item.reading is not None else ""

    def redraw(self, place: str | None = None) -> None:
        """Show the list and what is told of the row under the cursor."""
        pane = self.query_one(Pane)
        title = f"Meter check: {progress(self.found)}"
        if self.coils is not None:
            title += f", coils at {figure(self.coils.value)} °C"
        if self.lead_resistance.value:
            title += f", leads {self.lead_resistance} subtracted"
        pane.entitle(title)
        super().redraw(place)
        self.query_one("#told", Static).update(styled(self.told(), self.glyphs))

    def on_pane_selected(self, message: Pane.Selected) -> None:
        """Another row: what was typed and not recorded is let go."""
        if message.place != self.place:
            self.typed = ""
        super().on_pane_selected(message)
        self.redraw()

    def told(self) -> list[Row]:
        """Verdict, faults that fit, and the next test, of the row under the cursor."""
        item = self.here
        if item is None:
            return []
        width = max(self.size.width - 2, 40)
        test, said = item.test, item.judgement
        lines: list[tuple[str, str]] = []
        if item.earlier is not None:
            was = item.earlier
            on = f"{was.model or 'a cabinet'} by {was.length or ''} {was.cable}".replace("  ", " ")
            lines.append(
                (
                    f"Before: {typeset(was.ohms) or 'tested'} on {on}, {was.when[:MINUTE]}. That does not prove the line as it is now.",
                    "warn",
                )
            )
        expected = f"Expected {test.expected}, limits {limits(item)}"
        if said is None:
            asks = "type what the meter shows" if ENTER.acts(self.session) else "no reading yet"
            lines.append(
                (
                    f"{test.line} pole pair {test.pair}: {asks} at {test.source}'s end. {expected}, coils at {figure(test.coil_temperature)} °C.",
                    "",
                )
            )
        else:
            told = f"{test.line} pole pair {test.pair}: {item.verdict}. {expected}."
            lines.append((told, STYLES[item.status]))
            lines += [(each, "warn") for each in (item.proof, item.drift) if each]
            if said.next_test is not None:
                lines.append((f"Next: {said.next_test.sentence}", ""))
            lines += [(f"- {e.words}", "") for e in said.listed if e.kind != "as expected"]
            lines += [(item.caution, "warn")] if item.caution else []
        if item.sweep is not None and not item.sweep.deviations:
            lines.append((f"Sweep: {item.sweep.verdict}. Press g for the graph.", ""))
        if said is None and item.wrong:
            lines.insert(0, (f"{test.line} pole pair {test.pair}: {item.verdict}.", "stop"))
        rows = [words(part, style) for text, style in lines for part in wrap(text, width, "  ")]
        if len(rows) > TOLD:
            rows[TOLD - 1 :] = [words("… more: the command rackwright meter", "dim")]
        return [*(words(part, "caution") for part in wrap(cautions.METER, width, "  ")), *rows]

    # --- keys ---

    def on_key(self, event: Key | None = None) -> None:
        """Digits begin a reading; what follows goes on with it."""
        if event is None:
            return
        if event.key == "backspace" and self.typed:
            self.typed = self.typed[:-1]
        elif event.character and self._types(event.character):
            self.typed += event.character
        elif event.key == "escape" and self.typed:
            self.typed = ""
        else:
            return
        event.stop()
        self.redraw()

    def _types(self, sign: str) -> bool:
        return sign in TYPED if self.typed else sign in "0123456789.,oO"

    def action_edit(self) -> None:
        item = self.here
        if item is None or (self.typed and self.editor.locked()):
            return
        if self.typed:
            try:
                ohms = as_kept(self.typed)
            except QuantityError as error:
                self.say(str(error), "yellow")
                return
            self.typed = ""
            taken = {"lead_resistance": self.lead_resistance, "coil_temperature": self.coils}
            self._note(item.test, f"reading {item.test.id}", ohms=ohms, **taken)
            said = self.here.judgement if self.here is not None else None
            if said is not None and not said.as_expected:
                return  # what it may be, and the next test, stay to be read
        self.query_one(Pane).action_step(1)

    def _note(self, test: PairTest, label: str, **fields: object) -> None:
        now = moment(datetime.datetime.now())
        self.make(label, lambda rig: edits.note_reading(rig, test.line, test.pair, when=now, **fields))

    def action_polarity(self) -> None:
        """From not tested to yes, to no, and back."""
        if (item := self.here) is not None:
            ticked = item.reading.polarity if item.reading is not None else ""
            self._note(item.test, f"polarity {item.test.id}", polarity=NEXT[ticked])

    def action_heard(self) -> None:
        item = self.here
        if item is None or self.editor.locked():
            return
        test, index = item.test, self.session.assessment.index
        others = [name for name in index.cabinets if (name,) != test.cabinets]
        options = [
            Option(RIGHT, f"a driver of this pole pair, {' '.join(test.sections)}"),
            Option(OTHER, "another driver, or none"),
            *(Option(name, index.cabinets[name].position) for name in others),
            Option(NOBODY, "not tested"),
        ]

        def done(value: str | None) -> None:
            if value is None:
                return
            heard: Tick = "yes" if value == RIGHT else "no" if value == OTHER else ""
            names = (value,) if value in index.cabinets else ()
            self._note(test, f"heard {test.id}", heard=heard, heard_from=names)

        title = f"Which driver is heard on {test.line} pole pair {test.pair}?"
        self.app.push_screen(Picker(title, options, self.glyphs, RIGHT), done)

    def action_leads(self) -> None:
        """Ask what the meter shows with its leads touched together; later readings have it taken off."""

        def done(text: str | None) -> None:
            if text is not None:
                self.lead_resistance = _leads(text)
                self.redraw()

        prompt = Prompt(
            "The meter's leads touched together show", self.glyphs, "", _leads,
            "Ohms, such as 0.2. It is subtracted from the readings recorded from now on.",
        )  # fmt: skip
        self.app.push_screen(prompt, done)

    def action_coil(self) -> None:
        """Ask how hot the voice coils are; what is expected, and later readings, count with it."""
        air = self.session.rig.supply.ambient

        def done(text: str | None) -> None:
            if text is not None:
                self.coils = temperature_of(text)
                self.redraw()

        prompt = Prompt(
            "Temperature of the voice coils", self.glyphs, self.coils.text if self.coils else "", temperature_of,
            f"Such as 45 degC after a show. Leave it empty before they have played: then that of the air, {air}.",
        )  # fmt: skip
        self.app.push_screen(prompt, done)

    def action_sweep(self) -> None:
        """Ask for the file of a sweep; it is kept with the reading of this row."""
        item = self.here
        if item is None or self.editor.locked():
            return
        test = item.test

        def done(path: str | None) -> None:
            if path is not None:
                points = _sweep(path)
                self._note(test, f"sweep {test.id}", sweep=points, coil_temperature=self.coils)

        prompt = Prompt(
            f"Impedance sweep of {test.line} pole pair {test.pair}: file", self.glyphs, "", _sweep,
            "Text or CSV: rows of frequency in Hz, ohms, degrees.",
        )  # fmt: skip
        self.app.push_screen(prompt, done)

    def action_graph(self) -> None:
        item = self.here
        if item is None or item.reading is None or not item.reading.sweep:
            self.say("No sweep of this pole pair yet. Press s to read one from a file.")
            return
        self.app.push_screen(SweepGraph(self.session.assessment.index, item, self.glyphs))

    def action_clear(self) -> None:
        """Clear the reading of this row and its sweep, its ticks stay."""
        self.typed = ""
        if (item := self.here) is not None and item.reading is not None:
            self._note(item.test, f"clear {item.test.id}", ohms="", sweep=())


def _phrases(text: str, width: int) -> str:
    """As many of its phrases as fit, rather than half a word: the whole of it stands below the list."""
    if len(text) <= width:
        return text
    whole = [text[: found.start()] for found in re.finditer(r"[,:;] | \(", text[: width - 1])]
    return f"{whole[-1]} …" if whole else fit(text, width)


def _leads(text: str) -> Resistance:
    """The leads' resistance as typed. Raises QuantityError, which is a ValueError."""
    leads = Resistance.parse(as_kept(text) or "0 ohm")
    if leads.value > 20:
        raise QuantityError(
            f"{leads} is too much for leads", "what the meter shows with its leads touched together"
        )
    return leads


def _sweep(path: str) -> tuple[tuple[float, float, float], ...]:
    """The sweep in a file. Raises SweepError, which is a ValueError."""
    return read_sweep(os.path.expanduser(path.strip()))
