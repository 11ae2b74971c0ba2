"""A whole rig from nothing, by keys alone: feeds, a circuit, a rack, amplifiers, sockets, cabinets, lines, files."""

import tomllib
from pathlib import Path

from rackwright.engine.assess import assess
from rackwright.store import rig_file

from .hand import Hand, opened

FEEDS = (
    ("top-low", "90 Hz", "1.2 kHz", "56 V", "79 V"),
    ("top-high", "1.2 kHz", "18 kHz", "26 V", "53 V"),
)
CABINETS = (("TOP-L1", "top-biamp-15", "biamped"), ("TOP-R1", None, None))
"""The second takes model and wiring after the first."""
RUNS = (("R1-1", "TOP-L1", "10 m"), ("R1-2", "TOP-R1", "50 ft"))


async def add_feeds(hand: Hand) -> None:
    for name, start, end, limiter_rms, limiter_peak in FEEDS:
        await hand.add("feed")
        await hand.fill(name, start, end, None, limiter_rms, limiter_peak)
        await hand.press("enter")


async def add_amplifier(hand: Hand, model: str, feeds: tuple[str, ...]) -> None:
    await hand.add("amplifier")
    await hand.press("down")
    await hand.choose(model)
    await hand.press(*["down"] * 5)
    for feed in feeds:
        await hand.choose(feed)
        await hand.press("down")
    await hand.press("enter")


async def add_cabinets(hand: Hand) -> None:
    for name, model, wiring in CABINETS:
        await hand.add("cabinet")
        await hand.fill(name)
        if model is not None and wiring is not None:
            await hand.choose(model)
            await hand.press("down")
            await hand.choose(wiring)
        await hand.press("enter")


async def connect(hand: Hand, socket: str, cabinet: str, length: str) -> None:
    """From the socket, pick the cabinet, then give the line its length."""
    await hand.find(socket)
    await hand.press("c")
    await hand.pick(cabinet)
    await hand.fill(None, None, None, None, length)
    await hand.press("enter")


async def build(hand: Hand) -> None:
    """The tops of the small room, from a new rig."""
    await hand.press("n")
    await add_feeds(hand)
    await hand.add("circuit")
    await hand.fill("P1", None, "16 A", None, "20 m", "2.5 mm2")
    await hand.press("enter")
    await hand.add("rack")
    await hand.fill(None, "Stage left", "4")
    await hand.press("enter")
    await add_amplifier(hand, "amp-4ch-600", ("top-low", "top-high") * 2)
    for _ in RUNS:
        await hand.add("socket")
        await hand.press("enter")
    await hand.find("R1-1")
    for channel in ("A1.1", "A1.2"):
        await hand.press("down", "p")
        await hand.pick(channel)
    for channel, pair in (("A1.3", "R1-2/1"), ("A1.4", "R1-2/2")):
        await hand.find(channel)
        await hand.press("p")
        await hand.pick(pair)
    await add_cabinets(hand)
    for socket, cabinet, length in RUNS:
        await connect(hand, socket, cabinet, length)


async def test_a_rig_is_built_saved_kept_as_a_preset_and_opened_again(own_home: Path) -> None:
    async with opened(size=(110, 30)) as hand:
        await build(hand)
        rig = hand.rig
        assert [(f.id, f.band[0].text, f.band[1].text) for f in rig.feeds] == [f[:3] for f in FEEDS]
        (circuit,) = rig.circuits
        assert (
            circuit.id,
            circuit.breaker.text,
            circuit.supply_cable and circuit.supply_cable.length.text,
        ) == (
            "P1",
            "16 A",
            "20 m",
        )
        (rack,) = rig.racks
        assert (rack.id, rack.name, rack.height) == ("R1", "Stage left", 4)
        assert [(a.id, a.model, a.unit, a.circuit) for a in rack.amplifiers] == [
            ("A1", "amp-4ch-600", 1, "P1"),
        ]
        assert [c.feed for c in rack.amplifiers[0].channels] == ["top-low", "top-high"] * 2
        assert [(s.id, s.poles) for s in rack.sockets] == [
            ("R1-1", ("A1.1", "A1.2")),
            ("R1-2", ("A1.3", "A1.4")),
        ]
        assert [(c.id, c.model, c.wiring) for c in rig.cabinets] == [
            ("TOP-L1", "top-biamp-15", "biamped"),
            ("TOP-R1", "top-biamp-15", "biamped"),
        ]
        assert [(n.source, n.to, n.length.text) for n in rig.lines] == list(RUNS)

        found = assess(rig)
        assert {name: section.channel for name, section in found.sections.items()} == {
            "TOP-L1.low": "A1.1",
            "TOP-L1.high": "A1.2",
            "TOP-R1.low": "A1.3",
            "TOP-R1.high": "A1.4",
        }
        assert "0 stops  0 warnings" in hand.foot
        assert "TOP-R1 top-biamp-15 biamped" in hand.text
        assert "Line C2" in hand.text

        await hand.press("s")
        await hand.write("friday.toml")
        await hand.press("enter")
        assert rig_file.load("friday.toml") == rig
        assert "Saved friday.toml" in hand.text
        assert "unsaved" not in hand.foot

        await hand.press("P")
        await hand.fill("The Cellar", "Cellar, small rig")
        await hand.write("Mains are behind the bar.")
        await hand.press("up", "enter")
        kept = tomllib.loads((own_home / "presets" / "the-cellar.toml").read_text("utf-8"))
        assert kept["name"] == "Cellar, small rig"
        assert kept["notes"].strip() == "Mains are behind the bar."

        await hand.press("o")
        assert "Cellar, small rig" in hand.text
        await go_to_row(hand, "preset the-cellar")
        await hand.press("enter")
        assert hand.rig.name == "Cellar, small rig"
        assert hand.rig.notes.strip() == "Mains are behind the bar."
        assert hand.rig.racks == rig.racks
        assert hand.rig.lines == rig.lines
        assert hand.session.path is None


async def go_to_row(hand: Hand, place: str) -> None:
    """On the start, go down to a row."""
    from rackwright.console.widgets.pane import Pane

    pane = hand.screen.query_one(Pane)
    await hand.press("home")
    for _ in pane.rows:
        if pane.place == place:
            return
        await hand.press("down")
    raise AssertionError(f"no row {place}:\n{hand.text}")


async def test_an_empty_rig_says_what_to_do_first() -> None:
    async with opened(size=(140, 45)) as hand:
        await hand.press("n")
        assert "No rack yet. Press a to add one." in hand.text
        await hand.press("a")
        assert hand.text.index("rack  ") < hand.text.index("amplifier  ")
        await hand.press("escape")
        await hand.add("amplifier")
        assert "Add a rack first." in hand.text
        assert hand.rig.racks == ()


async def test_the_next_thing_takes_the_next_unit_and_the_next_id_in_the_crews_own_pattern() -> None:
    async with opened(preset="small-room") as hand:
        await hand.find("R1")
        await hand.press("enter")
        await hand.fill(None, None, "12")
        await hand.press("enter")
        for _ in range(2):
            await hand.add("amplifier")
            await hand.press("enter")
        assert [(a.id, a.unit) for a in hand.rig.racks[0].amplifiers[2:]] == [("A3", 2), ("A4", 4)]
        await hand.find("SUB-L1")
        await hand.add("cabinet")
        await hand.press("enter")
        await hand.add("cabinet")
        await hand.press("enter")
        assert [c.id for c in hand.rig.cabinets[-2:]] == ["SUB-L2", "SUB-L3"]
        assert hand.session.place == "SUB-L3"
