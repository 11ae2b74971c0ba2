"""Each screen as a terminal shows it, in colour at up to three sizes, and in ASCII without colour, against the snapshots kept beside.

A walk goes through the smallest window, the one that shows least; for each snapshot the window grows and shrinks again.
"""

import pytest

from console.hand import Hand, opened
from rackwright.console import editor, leftovers
from rackwright.console.commands import failure
from rackwright.console.screens import night_list, plans
from rackwright.console.terminal.glyphs import ASCII, UNICODE
from rackwright.store import recent

from .shots import COLOURS, DRAWN_BY, MOST, Album, colours, drawn_by, shown, writing
from .walks import LEFT, RECENT, SMALL, WALKS


@pytest.mark.parametrize("name", WALKS)
@pytest.mark.parametrize("look", ["colour", "ascii"])
async def test_each_screen_is_as_it_was(name: str, look: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(recent, "recent", lambda: RECENT)
    monkeypatch.setattr(leftovers, "leftovers", lambda: LEFT)
    for module in (editor, failure, night_list, plans):
        monkeypatch.setattr(module, "moment", lambda _now: "2020-02-29 21:40:05")
    coloured, walk = look == "colour", WALKS[name]
    if not coloured:
        monkeypatch.setenv("NO_COLOR", "1")
    album = Album(name, look)

    def take(shot: str, hand: Hand, size: tuple[int, int]) -> None:
        strips = shown(hand)
        beyond = colours(strips) - set(COLOURS if coloured else "")
        text = "\n".join(strip.text for strip in strips)
        assert not beyond, f"{shot}: colours {beyond}\n{text}"
        assert coloured or text.isascii(), f"{shot}: not ASCII\n{text}"
        album.take(shot, size, strips)

    async with opened(
        preset=walk.preset, size=SMALL, glyphs=UNICODE if coloured else ASCII, painted=coloured
    ) as hand:

        async def take_all(shot: str, *larger: tuple[int, int]) -> None:
            take(shot, hand, SMALL)
            if coloured and larger:
                for size in larger:
                    await hand.resize(*size)
                    take(shot, hand, size)
                await hand.resize(*SMALL)

        await walk.steps(hand, take_all)
    if writing():
        album.write()
        return
    found = album.differences()
    if found and DRAWN_BY.read_text("utf-8") != drawn_by():
        pytest.skip(f"drawn by {DRAWN_BY.read_text('utf-8').split()}, here is {drawn_by().split()}")
    assert not found, "\n".join(["see DEVELOPERS.md, Tests, for how to write them anew", *found[:MOST]])
