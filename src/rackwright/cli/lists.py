"""Pages that list what there is to start from: presets, venues and equipment."""

from collections.abc import Callable, Iterable
from typing import Any

from rackwright.cli.page import Page, Span
from rackwright.model.equipment import Equipment
from rackwright.store.presets import Preset
from rackwright.store.venues import Kept


def presets_page(presets: Iterable[Preset]) -> Page:
    """The presets with their names and the first line of their notes."""
    page = Page()
    rows = [(p.name, p.origin, p.error or f"{p.title}. {p.notes}".removesuffix(" ")) for p in presets]
    page.table(("preset", "from", "what it is"), rows)
    page.gap()
    page.say(Span("Check one: rackwright check NAME. Copy one: rackwright presets copy NAME FILE", "dim"))
    return page


def venues_page(venues: Iterable[Kept]) -> Page:
    """The venues with their titles, the first line of their notes, and how much is known of each."""
    page = Page()
    rows = [
        (
            kept.name,
            kept.origin,
            kept.error or f"{kept.title}. {kept.first_note}".removeprefix(". ").removesuffix(" "),
            *(
                map(str, (len(v.circuits), len(v.lines), len(v.positions)))
                if (v := kept.facts)
                else ("", "", "")
            ),
        )
        for kept in venues
    ]
    figures = ("circuits", "lines", "positions")
    page.table(("venue", "from", "what it is", *figures), rows, right=figures)
    page.gap()
    page.say(Span("Apply one to a rig: rackwright venue apply RIG VENUE --out SHOW.toml", "dim"))
    return page


def equipment_page(library: Equipment) -> Page:
    """Every entry, kind after kind."""
    page = Page()
    kinds: tuple[tuple[str, tuple[Any, ...], Callable[[Any], str]], ...] = (
        ("Amplifiers", library.amplifiers, lambda e: f"{e.channels} channels, {e.height} U"),
        ("Loudspeakers", library.loudspeakers, lambda e: ", ".join(s.id for s in e.sections)),
        ("Cables", library.cables, lambda e: f"{e.cores} × {e.size} ({e.size.equivalent()})"),
        ("Connectors", library.connectors, lambda e: f"{e.pole_pairs} pole pairs"),
    )
    for heading, entries, words in kinds:
        page.heading(heading)
        page.table(("id", "name", ""), [(entry.id, entry.name, words(entry)) for entry in entries])
    page.gap()
    page.say(Span("Show one: rackwright equipment show ID", "dim"))
    return page
