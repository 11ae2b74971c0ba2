"""The mains tree by keys: built, moved, measured, failed, switched on by a list."""

import re

import pytest

from rackwright.console.screens.mains import MainsTree
from rackwright.console.screens.night_list import ListTable
from rackwright.console.screens.plans import Plans
from rackwright.console.widgets.form import Form
from rackwright.engine.cautions import PLANNING
from rackwright.units import Power
from rackwright.units.formatting import whole_percent

from .hand import Hand, opened

SMALL = (80, 24)


def tree(hand: Hand) -> list[str]:
    """Its rows, in words."""
    assert isinstance(hand.screen, MainsTree)
    return ["".join(text for text, _ in row.parts) for row in hand.screen.drawn.rows]


async def to(hand: Hand, place: str) -> None:
    """Walk to a node with the arrows."""
    await hand.press("home")
    for _ in tree(hand):
        if hand.session.place == place:
            return
        await hand.press("down")
    raise AssertionError(f"{place} is not in the tree")


async def test_a_tree_is_built_where_the_cursor_stands_and_edited() -> None:
    async with opened(size=SMALL) as hand:
        await hand.press("n", "M")
        assert "No circuit yet" in hand.words
        await hand.add("board")
        await hand.fill("D1", None, "32 A")
        await hand.press("enter")
        await hand.add("circuit")
        await hand.field("id")
        await hand.fill("P1", None, None, "16 A")
        await hand.press("enter")
        await hand.add("load")
        await hand.fill("LIGHTS", "front light", None, "1.2 kW")
        await hand.press("enter", "enter")
        await hand.write("1.3 kW")
        await hand.press("enter")
        (board,), (circuit,), (load,) = hand.rig.boards, hand.rig.circuits, hand.rig.loads
        assert (board.source, circuit.board, load.circuit) == ("", "D1", "P1")
        assert load.power is not None
        assert load.power.text == "1.3 kW"
        depths = [len(row) - len(row.lstrip("│├└─ ")) for row in tree(hand)[2:6]]
        assert depths == sorted(set(depths)), tree(hand)
        assert hand.session.place == "LIGHTS"
        await hand.press("delete", "u", "u", "escape")
        assert hand.rig.loads[0].power == Power.parse("1.2 kW")


@pytest.mark.parametrize("size", [SMALL, (140, 45)])
async def test_what_a_move_of_several_does_is_shown_before_it_is_made(size: tuple[int, int]) -> None:
    async with opened(preset="hall", size=size) as hand:
        before = hand.rig
        await hand.press("M")
        first, *others = [each.id for each in before.circuits]
        names = [a.id for a in before.amplifiers() if a.circuit == first]
        for name in names:
            await to(hand, name)
            await hand.press("space")
        await hand.press("m")
        assert isinstance(hand.screen, Form)
        await hand.press("right")
        assert f"{first} {whole_percent(hand.session.assessment.circuits[first].loading)}, hard" in hand.words
        assert "→ 0 %, hard 0 %" in hand.words
        assert hand.rig is before
        await hand.press("enter")
        moved = {a.id: a.circuit for a in hand.rig.amplifiers()}
        assert {moved[name] for name in names} == {others[0]}
        await hand.press("u")
        assert hand.rig is before


async def test_the_stage_answers_what_an_electrician_asks() -> None:
    """What each phase carries, which breaker goes first, what RCDs leak, and what 2 kW more of the caterer's do."""
    async with opened(preset="outdoor-stage", size=SMALL) as hand:
        await hand.press("M")
        now, shown = hand.session.assessment, tree(hand)
        for phase in now.phases.values():
            row = next(row for row in shown if row.split()[:2] == ["├─", phase.id])
            assert f"{phase.programme_current:#.3g} A" in row
            assert f"{phase.heavy_current:#.3g} A" in row
        shares = {c.id: c.loading for c in now.circuits.values()} | {
            b.id: b.loading or 0 for b in now.boards.values()
        }
        first = max(shares, key=lambda name: shares[name])
        assert (
            f"Most loaded: {first}, {whole_percent(shares[first])} of its rating at programme; the intake"
            in " ".join(shown)
        )
        for rcd in now.rcds.values():
            row = next(row for row in shown if f" {rcd.id} " in row)
            assert f"{1000 * rcd.leakage:.0f}/30 mA" in row
        await to(hand, "CATERING")
        await hand.press("a", "enter")
        await hand.fill("KETTLES", None, None, "2 kW")
        assert "P14 27 %, hard 27 % → 82 %, hard 82 %" in hand.words
        assert "over 12.8 A, 80 % of its 16 A breaker" in hand.words
        await hand.press("enter")
        assert [f.at for f in hand.session.assessment.findings if f.code == "circuit-near-limit"] == ["P14"]


async def test_what_a_cable_on_its_drum_does_is_told_in_the_smallest_window() -> None:
    async with opened(preset="outdoor-stage", size=SMALL) as hand:
        await hand.press("M")
        await to(hand, "P13")
        await hand.press("enter")
        assert isinstance(hand.screen, Form)
        hand.screen.boxes["laid"].focus()
        await hand.press("right", "right")
        assert "lets through more than its supply cable" in hand.words
        assert "7.73 A flow at programme" in hand.words
        await hand.press("enter")
        (found,) = (f for f in hand.session.assessment.findings if f.code == "cable-on-drum")
        assert (found.at, found.advice[:9]) == ("P13", "Unroll it")


async def test_the_layers_on_a_drum_are_asked_for_of_a_cable_on_one_only() -> None:
    async with opened(preset="outdoor-stage", size=(140, 45)) as hand:
        await hand.press("M")
        await to(hand, "P13")
        await hand.press("enter")
        assert "Layers on the drum" not in hand.words
        await hand.field("laid")
        await hand.press("right", "right")
        assert "Layers on the drum" in hand.words
        await hand.field("layers")
        await hand.write("2")
        await hand.press("enter")
        assert [c.supply_cable.layers for c in hand.rig.circuits if c.id == "P13" and c.supply_cable] == [2]
        await hand.press("enter")
        await hand.field("laid")
        await hand.press("left", "left")
        assert "Layers on the drum" not in hand.words
        await hand.press("enter")
        assert [c.supply_cable.layers for c in hand.rig.circuits if c.id == "P13" and c.supply_cable] == [
            None
        ]


async def test_what_a_move_does_to_boards_is_shown_too() -> None:
    async with opened(preset="outdoor-stage", size=(140, 45)) as hand:
        await hand.press("M")
        await to(hand, "CATERING")
        full = hand.session.assessment.boards["D4"]
        await hand.press("m", "right")
        assert f"D4 {whole_percent(full.loading)}, hard {whole_percent(full.loading_heavy)} →" in hand.words
        await hand.press("escape", "escape")  # neither racks nor lines list loads
        assert hand.session.place == "CATERING"
        assert hand.workplace.panes[hand.workplace.front].row is not None


async def test_all_that_is_chosen_is_duplicated_and_removed() -> None:
    async with opened(preset="outdoor-stage", size=SMALL) as hand:
        before = hand.rig
        await hand.press("M")
        for name in ("CATERING", "BACKLINE"):
            await to(hand, name)
            await hand.press("space")
        await hand.press("d")
        loads = {load.id for load in hand.rig.loads}
        assert loads == {load.id for load in before.loads} | {"CATERING2", "BACKLINE2"}
        await hand.press("delete")
        assert {load.id for load in hand.rig.loads} == loads - {"CATERING", "BACKLINE"}
        await hand.press("u", "u")
        assert hand.rig == before
        for name in ("P12", "P14"):
            await to(hand, name)
            await hand.press("space")
        await hand.press("delete")
        assert "P12 and P14 are in use" in hand.words
        assert "load CATERING hangs on it" in hand.words
        await hand.press("y")
        assert {"P12", "P14"} & {circuit.id for circuit in hand.rig.circuits} == set()
        assert {load.id: load.circuit for load in hand.rig.loads} == {
            "DESK": "",
            "BACKLINE": "P13",
            "CATERING": "",
        }


async def test_what_is_chosen_outside_the_tree_is_not_removed_in_it() -> None:
    async with opened(preset="hall", size=SMALL) as hand:
        before = hand.rig
        hand.session.chosen = (before.lines[0].id,)
        await hand.press("M")
        await to(hand, before.circuits[0].id)
        await hand.press("delete", "y")
        assert hand.rig.lines == before.lines
        assert len(hand.rig.circuits) == len(before.circuits) - 1


async def test_a_clamp_reading_is_noted_under_the_edit_lock_and_stands_beside_the_figure() -> None:
    async with opened(preset="hall", size=SMALL) as hand:
        before = hand.rig
        await hand.press("L", "M")
        circuit = hand.rig.circuits[0].id
        await to(hand, next(a.id for a in before.amplifiers() if a.circuit == circuit))
        await hand.press("enter", "a", "m", "delete")
        assert hand.rig is before
        assert isinstance(hand.screen, MainsTree)
        await hand.press("c")
        await hand.fill("7.2", "2026-05-01 21:00")
        await hand.press("enter")
        measured = hand.rig.circuits[0].measured
        assert measured is not None
        assert measured.current.value == 7.2
        await hand.press("escape")
        assert hand.rig.supply.measured_duty is None
        shown = " ".join(" ".join(tree(hand)).replace("│", "").split())
        figured = hand.session.assessment.circuits[circuit]
        assert "measured 7.2 A (2026-05-01 21:00), a duty of" in shown
        assert f"calculated {figured.programme_current:.3g} A at 0.125" in shown
        await to(hand, circuit)
        await hand.press("c")
        await hand.fill("")
        await hand.press("enter")
        assert hand.rig.circuits[0].measured is None


async def test_a_reading_over_programme_is_offered_as_the_duty_of_the_venue() -> None:
    async with opened(preset="hall", size=SMALL) as hand:
        await hand.press("M")
        circuit = hand.rig.circuits[0].id
        await to(hand, circuit)
        await hand.press("c")
        await hand.fill("1 A")
        await hand.press("enter")
        assert isinstance(hand.screen, MainsTree), "a quiet show asks for nothing"
        figured = hand.session.assessment.circuits[circuit]
        between = (figured.programme_current + figured.heavy_current) / 2
        await hand.press("c")
        await hand.fill(f"{between:.3f} A")
        await hand.press("enter")
        assert "over the 0.125 that programme is counted with" in hand.words
        await hand.press("y")
        assert hand.rig.supply.measured_duty == pytest.approx((0.125 + 0.3333) / 2, abs=0.002)
        assert hand.session.assessment.circuits[circuit].programme_current == pytest.approx(between, rel=0.01)
        assert not [f for f in hand.session.assessment.findings if f.code == "measured-over-programme"]
        await hand.press("u")
        assert hand.rig.supply.measured_duty is None


async def test_a_circuit_fails_from_the_tree_and_its_figures_have_a_working() -> None:
    async with opened(preset="hall", size=SMALL) as hand:
        await hand.press("M")
        assert PLANNING in " ".join(" ".join(tree(hand)).split())
        await to(hand, "P5")
        await hand.press("w")
        assert "P5: Loading, programme" in hand.words
        await hand.press("escape", "f")
        assert isinstance(hand.screen, Plans)
        await hand.press("escape")
        assert "failed" in next(row for row in tree(hand) if " P5 " in row)
        await hand.press("escape")
        assert hand.session.place == "P5"


async def test_switching_on_is_a_list_that_is_ticked_and_changes_nothing_else() -> None:
    async with opened(preset="hall", size=SMALL) as hand:
        before = hand.rig
        await hand.press("M", "o", "enter")
        assert isinstance(hand.screen, ListTable)
        (made,) = hand.rig.lists
        assert f"Switch on, 0 of {len(made.steps)} done" in hand.text
        await hand.press("enter", "escape", "o", "enter")
        assert hand.rig.lists[0].ticked == 1
        await hand.press("escape")
        await to(hand, hand.rig.circuits[0].id)
        await hand.press("d")
        assert isinstance(hand.screen, MainsTree), "an edit asks for how long though nothing has failed"
        await hand.press("u", "o", "enter", *["enter"] * (len(made.steps) - 1))
        assert "All done." in hand.words
        assert hand.rig == before


async def test_a_breaker_under_us_rules_shows_no_curve() -> None:
    """UL 489 has none, from memory: neither in the tree nor where a circuit is chosen."""
    async with opened(preset="small-club", size=SMALL) as hand:
        await hand.press("M")
        shown = " ".join(tree(hand))
        assert "L1-L2 100 A" in re.sub(" +", " ", shown)
        assert not re.search(r"\d A [BCD]\b", shown)
        await to(hand, "COOLER")
        await hand.press("enter")
        assert "L2 20 A, 23 %" in hand.words
