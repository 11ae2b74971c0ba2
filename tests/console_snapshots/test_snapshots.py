"""Each screen as a terminal shows it, at up to three sizes in colour and in ASCII, against the snapshots that are kept beside.

Without colour nothing but colour goes: that needs no snapshots of its own.
"""

import pytest

from console.hand import opened
from rackwright.console import document
from rackwright.console.screens import plans
from rackwright.console.terminal.glyphs import ASCII, UNICODE
from rackwright.store import recent

from .shots import COLOURS, DRAWN_BY, MOST, Album, colours, drawn_by, shown, writing
from .walks import LEFT, RECENT, SMALL, WALKS

SHOWN = [
    (name, size, look)
    for name, walk in WALKS.items()
    for size, look in (
        *((size, "colour") for size in walk.sizes), (SMALL, "ascii"), *([(SMALL, "mono")] if walk.mono else [])
    )
]  # fmt: skip


@pytest.mark.parametrize(
    ("walk", "size", "look"),
    SHOWN,
    ids=lambda value: value if isinstance(value, str) else "{}x{}".format(*value),
)
async def test_each_screen_is_as_it_was(
    walk: str, size: tuple[int, int], look: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(recent, "recent", lambda: RECENT)
    monkeypatch.setattr(document, "leftovers", lambda: LEFT)
    monkeypatch.setattr(plans, "stamp", lambda _moment: "2020-02-29 21:40")
    if look == "mono":
        monkeypatch.setenv("NO_COLOR", "1")
    preset, steps, *_ = WALKS[walk]
    album = Album(walk, size, look)
    async with opened(
        preset=preset, size=size, glyphs=ASCII if look == "ascii" else UNICODE, painted=True
    ) as hand:

        def take(name: str) -> None:
            strips = shown(hand)
            beyond = colours(strips) - (set() if look == "mono" else set(COLOURS))
            text = "\n".join(strip.text for strip in strips)
            assert not beyond, f"{name}: colours {beyond}\n{text}"
            assert look != "ascii" or text.isascii(), f"{name}: not ASCII\n{text}"
            album.take(name, strips)

        await steps(hand, take)
    if writing() and look != "mono":
        album.write()
        return
    found = album.differences()
    if found and DRAWN_BY.read_text("utf-8") != drawn_by():
        pytest.skip(f"drawn by {DRAWN_BY.read_text('utf-8').split()}, here is {drawn_by().split()}")
    assert not found, "\n".join(["see DEVELOPERS.md, Tests, for how to write them anew", *found[:MOST]])
