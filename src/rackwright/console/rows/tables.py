"""The rows of the tables: feeds, spares, stock, equipment. What the columns hold grows with the width."""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

from rackwright.console.rows.racks import Marks
from rackwright.console.rows.row import Row, cut, gap_in, in_columns, words
from rackwright.console.rows.row import titles as named
from rackwright.console.terminal.glyphs import Glyphs
from rackwright.engine.assess import Assessed
from rackwright.model.equipment import (
    EQUIPMENT_KINDS,
    AmplifierModel,
    CableModel,
    ConnectorModel,
    Equipment,
    EquipmentEntry,
    LoudspeakerModel,
)
from rackwright.model.lines import Spare, Stock
from rackwright.model.racks import Feed
from rackwright.units import Length
from rackwright.units.text_table import wrap
from rackwright.units.wording import runs, so_many

LIMITERS = slice(3, 5)
"""Figures among the columns of feeds."""
ROOMY = 90
"""Cells in which heads need not be shortened."""
MOST_CHANNELS = 12
"""Cells of the channels of a feed that are worth less room between the columns."""
MOST_NAMES = 0.6
"""Share of the names of a kind of equipment that have to fit, under one another, for these to be shown."""


def feeds(assessment: Assessed, width: int, glyphs: Glyphs) -> list[Row]:
    """Every feed: its band, polarity, limiters, and the channels that play it."""
    found = assessment.index.feeds.values()
    if not found:
        return [words("No feed yet. Press a to add one.")]
    marks = Marks(assessment)
    limiters = ("Limiter rms", "Limiter peak") if width >= ROOMY else ("Lim. rms", "Lim. peak")
    titles = ("Id", "Band", "Polarity", *limiters, "Channels")
    most = (16, 24, 9, 12, 12)
    sizes = list(map(_widest, titles, zip(*map(_feed, found), strict=True), most))
    marked = max(len(f" {mark}") if mark else 0 for mark, _ in (marks.of(feed.id) for feed in found))
    while sum(sizes) + len(sizes) - 1 + marked > width and len(sizes) > 1:
        sizes.pop()  # a limiter rather than how it has failed
    playing = {feed.id: [c.id for c in assessment.channels.values() if c.feed == feed.id] for feed in found}
    longest = min(MOST_CHANNELS, max(len(_count(channels)) for channels in playing.values()))
    gap = gap_in(width, sum(sizes) + longest + marked, len(sizes) + 1)
    if (rest := width - sum(sizes) - gap * len(sizes) - marked) >= len(titles[-1]):
        sizes.append(rest)

    def texts(told: Sequence[str]) -> str:
        right = [text.rjust(size) for text, size in zip(told[LIMITERS], sizes[LIMITERS], strict=False)]
        return in_columns((*told[: LIMITERS.start], *right, told[-1])[: len(sizes)], sizes, glyphs, gap)

    rows = [named(texts(titles))]
    for feed in found:
        channels = playing[feed.id]
        cells = texts((*_feed(feed), _count(channels)))
        style = "failed" if feed.state == "failed" else "" if channels else "dim"
        told, severe = marks.of(feed.id)
        rows.append(Row(((cells, style), (f" {told}", severe)), feed.id))
    return rows


def _feed(feed: Feed) -> tuple[str, ...]:
    limiters = _or_dash(feed.limiter_rms), _or_dash(feed.limiter_peak)
    return feed.id, _band(feed), feed.polarity, *limiters


def _band(feed: Feed) -> str:
    low, high = feed.band
    return f"{low} to {high}"


def spares(assessment: Assessed, width: int, glyphs: Glyphs) -> list[Row]:
    """What stands by for a failure: cables by length, amplifiers, how many of each."""
    found = assessment.index.rig.spares
    if not found:
        told = "No spares yet. Press a to add a cable or an amplifier: recovery plans use only the spares listed here."
        return [words(line) for line in wrap(told, width)]
    return _owned(assessment, found, (), (), width, glyphs)


def stock(
    assessment: Assessed,
    width: int,
    glyphs: Glyphs,
    own: Sequence[Stock],
    taken: Mapping[tuple[str, float], int],
    short: Sequence[tuple[tuple[str, Length], int]],
) -> list[Row]:
    """What the company owns, how many of each this rig takes, and what is short; `own` holds where the rig lists none."""
    found = assessment.index.rig.stock
    if not found and not own:
        told = "No stock yet. Press a to add a length of cable: the pull list then chooses from the lengths that you own."
        return [words(line) for line in wrap(told, width)]
    uses = [f"{taken.get((item.cable, item.length.value), 0):>5}" for item in found or own]
    rows = _owned(assessment, found or own, ("Taken",), [(use,) for use in uses], width, glyphs)
    told = "Taken: by this rig's lines and spares, each from the shortest that fits."
    rows += [words(""), *(words(line, "dim") for line in wrap(told, width))]
    name, far = (max((len(str(wanted[n])) for wanted, _ in short), default=0) for n in (0, 1))
    many = max((len(str(count)) for _, count in short), default=0)
    for (cable, length), count in short:
        rows.append(words(f"Short: {count:>{many}} × {cable:<{name}} {length!s:>{far}} or longer", "warn"))
    if found:
        return rows
    told = "Your own stock list, used while the rig has none. Press m to add it to the rig and edit it there."
    rows = [row._replace(selectable=False) for row in rows]
    return [*rows, words(""), *(words(line, "note") for line in wrap(told, width))]


def _owned(
    assessment: Assessed,
    found: Sequence[Spare | Stock],
    titles: Sequence[str],
    more: Sequence[Sequence[str]],
    width: int,
    glyphs: Glyphs,
) -> list[Row]:
    """Cables and amplifiers with length, quantity, further columns, and the figures they are known by."""
    index = assessment.index
    name = _widest("Model", (_model(item) for item in found), 24)
    length = _widest("Length", (str(item.length or "") for item in found))
    sizes = (name, length, len("Quantity"), *(len(title) for title in titles))
    models = [
        (index.cable_models if item.cable else index.amplifier_models).get(_model(item)) for item in found
    ]
    taken = sum(sizes) + 2 * len(sizes)
    known = [described(model) if model else "" for model in models]
    if _widest("", known, width) > width - taken:
        known = [figures_of(model) if model else "" for model in models]
    gap = max(2, gap_in(width, sum(sizes) + max(map(len, known)), len(sizes) + 1))  # a count beside a figure
    sizes = (*sizes, width - sum(sizes) - gap * len(sizes))
    heads = ("Model", "Length".rjust(length), "Quantity", *titles, "Figures")
    rows = [named(in_columns(heads, sizes, glyphs, gap))]
    for number, item in enumerate(found):
        columns = more[number] if more else ()
        figures = (str(item.length or "–").rjust(length), f"{item.count:>8}", *columns)
        cells = in_columns((_model(item), *figures, known[number]), sizes, glyphs, gap)
        rows.append(Row(((cells, "" if item.count else "dim"),), item.id))
    return rows


def _model(item: Spare | Stock) -> str:
    return item.cable if isinstance(item, Stock) or item.cable else item.amplifier


class Known(NamedTuple):
    """An equipment entry with where it comes from."""

    kind: str
    entry: EquipmentEntry
    origin: str
    """In words: `mine`, `built in (demo)`, `in this rig` …"""

    place: str
    """What its row is called: never taken apart."""


def place_of(kind: str, name: str, origin: str = "") -> str:
    """What the row of an entry is called: in the library by its origin too, as that can list an id twice."""
    return f"{kind} {name} {origin}"


def _in_library(kind: str, entry: EquipmentEntry, origin: str) -> Known:
    return Known(kind, entry, origin, place_of(kind, entry.id, origin))


BUILT_IN, MINE, IN_RIG = "built in (demo)", "mine", "in this rig"


def in_library(own: Equipment, built_in: Equipment, carried: Equipment) -> list[Known]:
    """All that the library list shows: the user's, the built-in that none of those stands for, the rig's that is neither."""
    found = []
    for kind in EQUIPMENT_KINDS:
        mine, shipped = _by_id(own, kind), _by_id(built_in, kind)
        found += [_in_library(kind, entry, MINE) for entry in mine.values()]
        found += [
            _in_library(kind, entry, IN_RIG)
            for entry in _by_id(carried, kind).values()
            if entry not in _either(entry, mine, shipped)
        ]
        found += [_in_library(kind, entry, BUILT_IN) for entry in shipped.values() if entry.id not in mine]
    return found


def in_rig(carried: Equipment, own: Equipment, built_in: Equipment) -> list[Known]:
    """What a rig carries, each with how it compares with the library's entry of its id."""
    found = []
    for kind in EQUIPMENT_KINDS:
        mine, shipped = _by_id(own, kind), _by_id(built_in, kind)
        for entry in _by_id(carried, kind).values():
            whose, other = (MINE, mine[entry.id]) if entry.id in mine else ("built in", shipped.get(entry.id))
            origin = (
                "in this rig only"
                if other is None
                else f"as {whose}"
                if entry == other
                else f"unlike {whose}"
            )
            found.append(Known(kind, entry, origin, place_of(kind, entry.id)))
    return found


def _by_id(equipment: Equipment, kind: str) -> dict[str, EquipmentEntry]:
    return {entry.id: entry for entry in getattr(equipment, kind)}


def _either(entry: EquipmentEntry, *tables: Mapping[str, EquipmentEntry]) -> list[EquipmentEntry]:
    return [table[entry.id] for table in tables if entry.id in table]


def equipment(
    known: Sequence[Known],
    width: int,
    glyphs: Glyphs,
    used: Mapping[tuple[str, str], int] | None = None,
    spare: Mapping[tuple[str, str], int] | None = None,
) -> list[Row]:
    """Entries kind after kind, each with its figures and its origin; with `used`, how many things of the rig use it, and how many are `spare`.

    The origin that most of a kind have is told once, beside the heading.
    """
    rows: list[Row] = []
    uses = {}
    digits = max((len(str(count)) for count in (used or {}).values()), default=1)
    for item in known if used is not None else ():
        key = item.kind, item.entry.id
        count, by = (used or {}).get(key, 0), (spare or {}).get(key, 0)
        told = f"{count:>{digits}} used" if count or by else f"{'':>{digits}} unused"
        uses[item.place] = f"{told}, {by} spare" if by else told
    kinds = {kind: [item for item in known if item.kind == kind] for kind in EQUIPMENT_KINDS}
    common = {kind: Counter(item.origin for item in here).most_common() for kind, here in kinds.items()}
    odd = [item.origin for kind, here in kinds.items() for item in here if item.origin != common[kind][0][0]]
    name, use = _widest("", (item.entry.id for item in known), 24), _widest("", uses.values(), width)
    rest = width - name - sum(size + 2 for size in (use, _widest("", odd, width)) if size) - 3
    sizes = _Sizes(
        name, rest, _names_at([[*zip(here, _told(here), strict=True)] for here in kinds.values()], rest), use
    )
    for kind, here in kinds.items():
        rows += [words("")] if rows else []
        origins = common[kind]
        usual = origins[0][0] if origins else ""
        shared = f", {usual}" if usual else ""
        shared += " where nothing else is said" if origins[1:] else ""
        rows.append(Row(((kind.capitalize(), "head"), (shared, "dim")), selectable=False))
        rows += list(_entries(here, usual, sizes, uses, glyphs)) or [words("  none", "dim")]
    return rows


class _Sizes(NamedTuple):
    """Cells of the columns of equipment, the same for all kinds."""

    name: int
    told: int
    """Figures and a name."""
    names_at: int
    use: int


def _names_at(kinds: Sequence[Sequence[tuple[Known, str]]], room: int) -> int:
    """Where names begin beside figures, the same for all kinds: where most of them stand whole."""
    columns = sorted({_longest(told) + 2 for told in kinds})
    return max(columns, key=lambda at: sum(_whole(told, at, room) for told in kinds))


def _longest(told: Sequence[tuple[Known, str]]) -> int:
    return max((len(text) for _, text in told), default=0)


def _whole(told: Sequence[tuple[Known, str]], at: int, room: int) -> int:
    """How many names of a kind stand whole from there on: none where figures are in the way or too many are cut."""
    whole = sum(at + len(item.entry.name) <= room for item, _ in told)
    return whole if _longest(told) + 2 <= at and whole >= MOST_NAMES * len(told) else 0


def _told(known: Sequence[Known]) -> list[str]:
    return _aligned([figures_of(item.entry).split("  ") for item in known])


def _entries(
    known: Sequence[Known],
    usual: str,
    sizes: _Sizes,
    uses: Mapping[str, str],
    glyphs: Glyphs,
) -> Iterator[Row]:
    """Entries of a kind: their names where most of them fit, origins other than the usual one."""
    told = [*zip(known, _told(known), strict=True)]
    named = _whole(told, sizes.names_at, sizes.told)
    for item, text in told:
        if named:
            text = f"{text:<{sizes.names_at}}{item.entry.name}"
        use = uses.get(item.place, "")
        origin = item.origin if item.origin != usual else ""
        yield Row(
            (
                (f" {cut(item.entry.id, sizes.name, glyphs)}  ", "head" if item.origin == MINE else ""),
                (cut(text, sizes.told, glyphs), ""),
                (f"  {use:<{sizes.use}}" if sizes.use else "", "dim" if use.lstrip() == "unused" else ""),
                (f"  {origin}" if origin else "", "note" if item.origin == MINE else "dim"),
            ),
            item.place,
        )


def _aligned(figures: Sequence[Sequence[str]]) -> list[str]:
    """Figures of entries under one another, where all have as many."""
    if len({len(each) for each in figures}) > 1:
        return ["  ".join(each) for each in figures]
    sizes = [max(map(len, column)) for column in zip(*figures, strict=True)]
    return ["  ".join(map(str.ljust, each, sizes)).rstrip() for each in figures]


def figures_of(entry: EquipmentEntry) -> str:
    """The figures that an entry is known by and chosen by, in a line: first what matters most, as its end may be cut."""
    match entry:
        case AmplifierModel():
            powers, loads = (
                "/".join(f"{getattr(r, of).value:g}" for r in entry.ratings) for of in ("power", "load")
            )
            assumed = f"{len(entry.assumed)} assumed, " if entry.assumed else ""
            known = f"{entry.channels} ch, {entry.height} U, {assumed}{powers} W at {loads} Ω"
            return f"{known}, {entry.terminals} terminals"
        case LoudspeakerModel():
            sections = ", ".join(f"{s.id} {s.nominal} {s.continuous}" for s in entry.sections)
            return ": ".join(filter(None, (_amped(entry), sections)))
        case CableModel():
            return f"{entry.cores} × {entry.size}, {entry.max_current}"
        case ConnectorModel():
            cover = "shrouded" if entry.shrouded else "exposed"
            return f"{so_many(entry.pole_pairs, 'pole pair')}, {entry.max_current}, {cover}"


def described(entry: EquipmentEntry) -> str:
    """The same with what its name adds to that."""
    figures = figures_of(entry)
    added = ", ".join(part for part in entry.name.split(", ") if part not in figures)
    return " – ".join(filter(None, (figures, added)))


def _amped(model: LoudspeakerModel) -> str:
    """`bi-amped` where sections of two kinds have a pole pair each; nothing where one signal is for all of it."""
    kinds = {section.id: section.kind for section in model.sections}
    ways = (len({kinds[name] for pair in pairs for name in pair[:1]}) for pairs in model.wirings.values())
    return {2: "bi-amped", 3: "tri-amped"}.get(max(ways, default=0), "")


# --- columns ---


def _widest(title: str, texts: Iterable[str], most: int = 16) -> int:
    return min(most, max((len(text) for text in (title, *texts)), default=0))


def _count(names: Sequence[str]) -> str:
    """How many, and which."""
    return f"{len(names)}: {runs(names)}" if names else "none"


def _or_dash(value: object) -> str:
    return "–" if value is None else str(value)
