"""Each screen at three sizes, in colour, without and in ASCII, against the snapshots that are kept beside."""

import pytest

from console.hand import opened
from rackwright.console import documents
from rackwright.console.glyphs import ASCII, UNICODE
from rackwright.store import recent

from .shots import COLOURS, DRAWN_BY, MOST, Album, colours, drawn_by, shown, writing
from .walks import LEFT, RECENT, WALKS

SIZES = ((80, 24), (110, 30), (140, 45))
LOOKS = ("colour", "mono", "ascii")


@pytest.mark.parametrize("look", LOOKS)
@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
@pytest.mark.parametrize("walk", WALKS)
async def test_each_screen_is_as_it_was(
    walk: str, size: tuple[int, int], look: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(recent, "recent", lambda: RECENT)
    monkeypatch.setattr(documents, "leftovers", lambda: LEFT)
    if look == "mono":
        monkeypatch.setenv("NO_COLOR", "1")
    preset, steps = WALKS[walk]
    async with opened(preset=preset, size=size, glyphs=ASCII if look == "ascii" else UNICODE) as hand:
        album = Album(hand, walk, size, look)

        def take(name: str) -> None:
            strips = shown(hand)
            allowed = set() if look == "mono" else set(COLOURS)
            assert colours(strips) <= allowed, f"{name}: colours {colours(strips) - allowed}\n{hand.text}"
            assert look != "ascii" or hand.text.isascii(), f"{name}: not ASCII\n{hand.text}"
            album.take(name)

        await steps(hand, take)
    if writing():
        album.write()
        return
    found = album.differences()
    if found and DRAWN_BY.read_text("utf-8") != drawn_by():
        pytest.skip(f"drawn by {DRAWN_BY.read_text('utf-8').split()}, here is {drawn_by().split()}")
    assert not found, "\n".join(["see DEVELOPERS.md, Tests, for how to write them anew", *found[:MOST]])
