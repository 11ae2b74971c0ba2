"""The technician's trial at the console: faults put into the hall's lines, typed with keys in a window of 80x24, each found."""

from console.hand import Hand, opened
from engine_meter_check.seeded import ALIKE, CROSSED, LEADS, measure

READ = {
    ("C3", 2): "open in SUB-L3",
    ("C6", 2): "open in C6 or its plugs",
    ("C9", 1): "shorted in the far plug of C9",
    ("C13", 1): "pole pairs 1 and 2 exchanged",
    ("C13", 2): "pole pairs 2 and 1 exchanged",
}


async def read(hand: Hand, line: str, pair: int, ohms: str) -> None:
    """Walk to a row, type what the meter shows, and come back to it."""
    while hand.screen.place != f"{line}/{pair}":
        await hand.press("down")
    await hand.type("o" if ohms == "OL" else ohms)
    await hand.press("enter")
    if hand.screen.place != f"{line}/{pair}":
        await hand.press("up")


async def test_every_seeded_fault_is_found_at_the_console() -> None:
    async with opened(preset="hall", size=(80, 24)) as hand:
        hall = hand.rig
        await hand.press("i", "z")
        await hand.type(f"{LEADS}")
        await hand.press("enter")
        for (line, pair), words in READ.items():
            await read(hand, line, pair, measure(hall, line, pair))
            assert words in hand.words, (line, pair)
            assert "Next:" in hand.words or words.startswith("pole pairs")
            if line == "C9":
                for crossed, found in CROSSED.items():
                    await read(hand, crossed, 1, measure(hall, crossed, 1))
                    assert f"{crossed} pole pair 1: as expected." in hand.words
                    await hand.press("c")
                    await hand.pick(found)
                    assert f"heard from {found}" in hand.words
                    assert f"{crossed} in {found} instead of" in hand.words
        for pair in (1, 2):
            await read(hand, "C20", pair, measure(hall, "C20", pair, ALIKE, 0.01))
            assert "not proved" in hand.words
            assert "Don't power it yet. Touch a small battery to pole pair" in hand.words
        await hand.press("c")
        await hand.pick("no:")
        assert "C20 pole pair 2: not heard as it should be." in hand.words
        assert "Don't power it: pole pairs 2 and 1 may be exchanged" in hand.words
        await hand.press("escape")
        codes = [(finding.code, finding.at) for finding in hand.session.assessment.findings]
        assert ("line-wrong", "C20/2") in codes
        assert ("line-not-proved", "C20/1") in codes
        assert {at for code, at in codes if code == "line-wrong"} >= {f"{line}/{pair}" for line, pair in READ}
        await hand.press("L")
        assert "Meter check, 8 wrong: C3/2, C6/2" in hand.words
