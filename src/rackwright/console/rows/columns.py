"""Trees in columns for a pane: each column as wide as what stands in it, under a heading; what matters least is left out first.

Nothing is cut while there is room for what may not be left out, which is a table's `need`. Knows words and cells, not
what they mean.
"""

import functools
from collections.abc import Callable, Iterable, Iterator, Sequence, Set
from typing import Any, NamedTuple, TypeAlias

from rackwright.console.rows.row import Part, Row, cut
from rackwright.console.terminal.glyphs import Glyphs
from rackwright.units.text_table import cells as cells_of

GAPS = (3, 2)
"""Cells between columns: the most that there is room for; one where nothing more can be left out."""
NOTHING: Part = ("", "")


class Column(NamedTuple):
    """What a column is called, and how it stands."""

    title: str
    right: bool = False
    drop: int = 0
    """Where there is no room the highest goes first; never where 0."""


class Entry(NamedTuple):
    """A line of a tree. Its lead runs on over the columns that it leaves empty."""

    place: str
    lead: tuple[Part, ...]
    cells: tuple[Part, ...] = ()
    """One for each column but the last."""
    state: Part = NOTHING
    """In the last column."""
    tail: Part = NOTHING
    """Words after the last cell, from the column next to it on; without cells from the first, or from where the lead ends."""
    spare: bool = False
    """Whether the tail goes where it would have to be cut."""
    depth: int = 0
    """How deep in the tree."""


class Wishes(NamedTuple):
    """Cells of what stands beside others."""

    need: int
    """Under which a name or a figure would be cut, or columns run together."""
    like: int
    """In which what is left out last stands too."""
    most: int
    """In which nothing is left out."""


def shares(width: int, wishes: Sequence[Wishes]) -> list[int]:
    """The cells of a width for what stands side by side: what each needs, then what they like and what they would fill, where that is to be had in full; the rest evenly, odd cells to the first."""
    found = [each.need for each in wishes]
    for wanted in zip(*wishes, strict=True):
        for lack, number in sorted((most - found[n], n) for n, most in enumerate(wanted)):
            found[number] += lack if 0 < lack <= width - sum(found) else 0
    rest, over = divmod(width - sum(found), len(found))
    return [found[0] + rest + over, *(share + rest for share in found[1:])]


_Shape: TypeAlias = tuple[tuple[int, ...], bool]
"""Which cells are filled, and whether there is a state."""


class _Sized(NamedTuple):
    """An entry as this terminal spells it, with the cells it takes."""

    entry: Entry
    lead: int
    cells: tuple[int, ...]
    state: int
    tail: int
    shape: _Shape
    drawn: list[Any]
    """How its row was last made, and the row."""


class _Layout(NamedTuple):
    """Which columns are shown, and where."""

    kept: tuple[int, ...]
    at: tuple[int, ...]
    """Where each begins, the first of them at 0."""
    states: int
    """Where states begin."""
    gap: int
    total: int
    """Cells from the first column to the end."""
    first: int
    """Where the first column begins at the least."""
    need: int
    """Cells under which something would be cut."""


_size = functools.lru_cache(4096)(cells_of)


@functools.lru_cache(2048)
def _sized(entry: Entry) -> _Sized:
    """An entry measured; kept, as an edit leaves most as they are."""
    cells, state = tuple([_size(text) for text, _ in entry.cells]), _size(entry.state[0])
    return _Sized(
        entry,
        sum([_size(text) for text, _ in entry.lead]),
        cells,
        state,
        _size(entry.tail[0]),
        (tuple([n for n, size in enumerate(cells) if size]), bool(state)),
        [None, None],
    )


class Table:
    """Entries in columns, the last of which says how a thing stands."""

    def __init__(
        self, title: str, columns: Sequence[Column], entries: Iterable[Entry], glyphs: Glyphs, state: int = 0
    ) -> None:
        """A `title` over the leads, with none no heading; `state` cells for states at the least."""
        self.title, self.glyphs, self.columns, self.state = title, glyphs, columns, state
        self.entries = [*entries]
        titles = tuple((column.title, "head") for column in columns)
        heading = [Entry("", ((title, "head"),), titles)] if title else []
        self._all = [self._sized(entry) for entry in (*heading, *self.entries)]

    def _sized(self, entry: Entry) -> _Sized:
        if self.glyphs.ascii:
            lead, cells, (state, tail) = map(
                self._spelt, (entry.lead, entry.cells, (entry.state, entry.tail))
            )
            entry = entry._replace(lead=lead, cells=cells, state=state, tail=tail)
        return _sized(entry)

    def _spelt(self, parts: tuple[Part, ...]) -> tuple[Part, ...]:
        return tuple((self.glyphs.spelt(text), style) for text, style in parts)

    def only(self, places: Set[str]) -> "Table":
        """The same with nothing but these places and what they stand under."""
        kept: list[Entry] = []
        above = -1
        below = ""
        for entry in reversed(self.entries):
            if entry.place in places or entry.depth < above:
                (signs, style), *rest = entry.lead
                below, above = self._ended(signs, below), entry.depth
                kept.append(entry._replace(lead=((below, style), *rest)))
        return Table(self.title, self.columns, kept[::-1], self.glyphs, self.state)

    def _ended(self, signs: str, below: str) -> str:
        """The signs of a tree's branches before an entry, those ended that do not go on in the signs before the next."""
        tee, corner, bar, gap, *_ = self.glyphs
        parts = ((n, signs[n : n + len(tee)]) for n in range(0, len(signs), len(tee)))
        ends = {tee: corner, bar: gap}
        return "".join(
            part if below[n : n + len(tee)] in (tee, corner, bar) else ends.get(part, part)
            for n, part in parts
        )

    @functools.cached_property
    def wishes(self) -> Wishes:
        """The cells that it needs, likes and would fill."""
        shown = self._shown
        return Wishes(*(self._layout(kept, GAPS[-1]).need for kept in (shown[-1], shown[-2:][0], shown[0])))

    def states_at(self, width: int) -> int:
        """Where its states begin in a width; 0 where it has none."""
        layout, first = self._laid(width)
        return first + layout.states if self._widest else 0

    def rows(self, width: int, states: int = 0) -> list[Row]:
        """Its rows for a width, the heading first; its states no further left than `states`, where there is room."""
        layout, first = self._laid(width)
        if first + layout.states < states <= width - self._widest:
            layout = layout._replace(states=states - first)
        how = self.columns, self._widths, self.glyphs.ascii, layout, first, width
        for sized in self._all:
            if sized.drawn[0] != how:
                sized.drawn[:] = how, self._row(sized, layout, first, width)
        return [sized.drawn[1] for sized in self._all]

    def _laid(self, width: int) -> tuple[_Layout, int]:
        """Its layout for a width, and where the first column begins."""
        layouts = (self._layout(kept, gap) for kept in self._shown for gap in GAPS)
        layout = next((each for each in layouts if each.need <= width), self._narrowest)
        return layout, max(0, min(width - layout.total, layout.first + (layout.gap > 1)))

    # --- how it is laid out ---

    @functools.cached_property
    def _shown(self) -> list[tuple[int, ...]]:
        """The columns from all to those that may not be left out."""
        drops = sorted({column.drop for column in self.columns if column.drop}, reverse=True)
        return [
            tuple(n for n, column in enumerate(self.columns) if column.drop < least)
            for least in (max(drops, default=0) + 1, *drops)
        ]

    @functools.cached_property
    def _widths(self) -> tuple[int, ...]:
        return tuple(map(max, zip(*(sized.cells for sized in self._all if sized.cells), strict=True)))

    @functools.cached_property
    def _shapes(self) -> tuple[tuple[_Shape, tuple[int, int]], ...]:
        """Each shape of entries, with their longest lead and their longest tail."""
        found: dict[_Shape, tuple[int, int]] = {}
        for entry, lead, _, _, tail, shape, _ in self._all:
            tail = 0 if entry.spare else tail
            leads, tails = found.get(shape, (0, 0))
            found[shape] = max(leads, lead + 2 + tail if tail and not shape[0] else lead), max(tails, tail)
        return tuple(found.items())

    @functools.cached_property
    def _widest(self) -> int:
        """Cells for states."""
        return max([self.state, *[sized.state for sized in self._all]])

    @functools.cached_property
    def _narrowest(self) -> _Layout:
        return self._layout(self._shown[-1], 1)

    def _layout(self, kept: tuple[int, ...], gap: int) -> _Layout:
        return _laid_out(kept, gap, self._widths, self._shapes, self._widest)

    # --- one of its rows ---

    def _row(self, sized: _Sized, layout: _Layout, first: int, width: int) -> Row:
        entry = sized.entry
        parts = tuple(self._parts(sized, layout, first, width))
        heads = bool(entry.cells) and not entry.place
        return Row(parts, entry.place, bool(entry.place), heads=heads)

    def _parts(self, sized: _Sized, layout: _Layout, first: int, width: int) -> Iterator[Part]:
        entry, here = sized.entry, 0
        stands = [
            (first + x, self._widths[n], self.columns[n].right, sized.cells[n], entry.cells[n])
            for n, x in zip(layout.kept, layout.at, strict=True)
            if sized.cells and sized.cells[n]
        ]
        states = first + layout.states
        end = states - 1 if sized.state else width
        room = stands[0][0] - 1 if stands else end
        if sized.lead <= room:
            yield from entry.lead
            here = sized.lead
        else:
            for text, style in entry.lead:
                told = self._cut(text, _size(text), room - here)
                yield told, style
                here += _size(told)
        if sized.tail:
            start = max(first + _after(layout.kept, layout.at, sized.shape[0], layout.states), here + 2)
            if not (entry.spare and start + sized.tail > end):
                stands.append((start, end - start, False, sized.tail, entry.tail))
        if sized.state:
            stands.append((states, max(0, width - states), False, sized.state, entry.state))
        for start, space, right, size, (text, style) in stands:
            told = self._cut(text, size, space)
            start += max(0, space - size) if right else 0
            yield " " * (start - here) + told, style
            here = start + min(size, space)

    def _cut(self, text: str, size: int, room: int) -> str:
        return text if size <= room else cut(text, room, self.glyphs)


@functools.lru_cache(256)
def _laid_out(
    kept: tuple[int, ...],
    gap: int,
    widths: tuple[int, ...],
    shapes: tuple[tuple[_Shape, tuple[int, int]], ...],
    widest: int,
) -> _Layout:
    """Where those columns stand; kept, as few edits change what is longest."""
    at, here = [], 0
    for n in kept:
        at.append(here)
        here += widths[n] + gap
    tails = [(state, _after(kept, at, filled, here) + tail) for (filled, state), (_, tail) in shapes if tail]
    states = max([here, *(end + 1 for state, end in tails if state)])
    ends = states + widest if widest else max(0, here - gap)
    total = max([ends, *(end for _, end in tails)])
    first = spans = 0
    for (filled, state), (lead, _) in shapes:
        stands = [x for n, x in zip(kept, at, strict=True) if n in filled] + [states] * state
        if stands:
            first = max(first, lead + max(1, gap - 1) - stands[0])
        else:
            spans = max(spans, lead)
    return _Layout(kept, tuple(at), states, gap, total, first, max(first + total, spans))


def _after(kept: Sequence[int], at: Sequence[int], filled: Sequence[int], end: int) -> int:
    """Where words begin after the last of the cells that are filled: at the next column, the first where none is."""
    return next((x for n, x in zip(kept, at, strict=True) if n > filled[-1]), end) if filled else 0


class View:
    """Tables one under the other, as a pane shows them."""

    def __init__(self, make: Callable[[], Sequence[Table]]) -> None:
        """`make` makes the tables once they are looked at."""
        self._make = make

    @functools.cached_property
    def _tables(self) -> Sequence[Table]:
        return self._make()

    @functools.cached_property
    def wishes(self) -> Wishes:
        """The cells that the widest of them needs, likes and would fill."""
        return Wishes(*map(max, zip(*(table.wishes for table in self._tables), strict=True)))

    @property
    def places(self) -> Set[str]:
        """All that it shows."""
        return {entry.place for table in self._tables for entry in table.entries}

    def only(self, places: Set[str], none: str) -> "View":
        """The same with nothing but these places and what they stand under; `none` is said where there are none."""

        def make() -> Sequence[Table]:
            kept = [table for each in self._tables if (table := each.only(places)).entries]
            words = Entry("", ((none, "dim"),))
            return kept or [Table("", (), (words,), self._tables[0].glyphs)]

        return View(make)

    @functools.cached_property
    def rows(self) -> Callable[[int], list[Row]]:
        """Their rows for a width. The same function each time, which a pane takes to give the same rows; it holds no view."""
        return functools.partial(_stacked, self._tables)


def _stacked(tables: Sequence[Table], width: int) -> list[Row]:
    """Rows of tables, an empty one between two, their states in one column."""
    states = max(table.states_at(width) for table in tables)
    found: list[Row] = []
    for table in tables:
        found += [Row((NOTHING,), selectable=False)] if found else []
        found += table.rows(width, states)
    return found
