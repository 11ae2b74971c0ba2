"""Editing down a column: typed, filled down, pasted, chosen; what it brings is said before it is put in."""

from rackwright.console.screens.columns import Columns

from .hand import Hand, opened


def lengths(hand: Hand) -> list[str]:
    return [line.length.text for line in hand.rig.lines]


async def test_lengths_are_typed_down_the_column_with_what_they_bring() -> None:
    async with opened(preset="small-room", size=(140, 45)) as hand:
        await hand.find("C1")
        await hand.press("E")
        assert isinstance(hand.screen, Columns)
        assert "[5 m" in hand.text
        before = hand.rig
        await hand.type("300 ft")
        assert "= 91.44 m + warn" in hand.words
        assert hand.rig is before
        await hand.burst(*["backspace"] * 6, "6", "enter", *"16", "down", *"11", "enter", *"25 kg", "enter")
        assert '"25 kg" is a weight, not a length.' in hand.words
        await hand.press("escape")
        assert lengths(hand) == ["6 m", "16 m", "11 m", "15 m"]
        await hand.press("ctrl+z")
        assert lengths(hand)[2] == "10 m"
        await hand.press("escape")
        assert hand.screen is hand.workplace


async def test_the_heads_of_columns_stay_in_sight_and_tell_that_there_are_more() -> None:
    async with opened(preset="outdoor-stage", size=(80, 24)) as hand:
        await hand.find(hand.rig.cabinets[-1].id)
        await hand.press("E")
        assert any("Model" in line and "…" in line for line in hand.text.splitlines())
        assert isinstance(hand.screen, Columns)
        await hand.press(*["right"] * (len(hand.screen.columns) - 1 - hand.screen.column))
        (head,) = (line for line in hand.text.splitlines() if "Access" in line)
        assert "…" not in head


async def test_a_column_is_filled_down_and_pasted() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.find("C2")
        await hand.press("E")
        await hand.burst(*"30", "ctrl+d")
        assert lengths(hand) == ["5 m", "30 m", "30 m", "30 m"]
        await hand.paste("7 m\n\n9\n")
        assert lengths(hand) == ["5 m", "7 m", "30 m", "9 m"]
        await hand.paste("1 m\n2 m\n3 m\n4 m")
        assert "4 lines were pasted for 3 rows" in hand.words
        await hand.press("left")
        await hand.burst(*"flex-4x4", "enter")
        assert [line.cable for line in hand.rig.lines] == [
            "flex-4x2.5",
            "flex-4x4",
            "flex-4x2.5",
            "flex-4x2.5",
        ]


async def test_what_drives_each_pole_pair_is_typed_down_its_column() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.find("C1")
        await hand.press("delete", "y")
        await hand.find("R1-1")
        await hand.press("E")
        assert "[Pole pair 1] Pole pair 2" in hand.text
        await hand.burst("right", *"a1.2")
        assert "= A1.2 sub, on R1-1, drives no cabinet" in hand.words
        await hand.burst("enter", "delete", "down", *"-a1.4", "enter")
        assert [s.poles for s in hand.rig.sockets()[:3]] == [
            ("A1.1", "A1.2"), ("A1.3", ""), ("A2.1", "-A1.4"),
        ]  # fmt: skip


async def test_feeds_are_given_to_what_is_chosen_by_a_few_letters() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        for name in ("A1.2", "A1.4"):
            await hand.find(name)
            await hand.press("space")
        await hand.find("A1.2")
        await hand.press("E")
        await hand.burst(*"top-h", "enter", *"low", "enter", *"nothing", "enter")
        assert '"nothing" is none of' in hand.words
        channels = hand.rig.racks[0].amplifiers[0].channels
        assert [channel.feed for channel in channels] == ["sub", "top-high", "sub", "top-low"]


async def test_left_and_right_put_in_what_is_typed_and_a_letter_within_a_word_is_no_choice() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.find("SUB-L1")
        await hand.press("E")
        while "[Side" not in hand.text:
            await hand.press("right")
        await hand.press("i")
        assert '"i" is none of: left, right' in hand.words
        await hand.press("backspace", "r", "left")
        assert hand.rig.cabinets[0].side == "right"
        assert "[Side" not in hand.text


async def test_an_edit_that_is_refused_stays_typed_where_it_is() -> None:
    """A model with fewer channels than are wired: what is typed must not be gone, nor the cursor."""
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.find("A1")
        await hand.press("E", "left")
        await hand.burst(*"amp-2ch-900", "enter")
        assert "A1 has 2 channels" in hand.words
        assert "amp-2ch-900_]" in hand.text
        assert hand.screen.place == "A1"
        assert not hand.session.history.begun


async def test_what_several_cells_at_once_bring_is_said() -> None:
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.find("C1")
        await hand.press("E")
        await hand.burst(*"80", "ctrl+d")
        assert "+ warn" in hand.words
        await hand.press("ctrl+z")
        await hand.paste("6 m\n6 m")
        assert "No change in findings." in hand.words


async def test_cells_of_two_columns_never_go_down_one() -> None:
    """As a spreadsheet copies them: a tab between the cells of a row."""
    async with opened(preset="small-room", size=(80, 24)) as hand:
        await hand.find("C1")
        await hand.press("E")
        before = lengths(hand)
        await hand.paste("20\t1\n25\t1\n")
        assert "Several columns were pasted" in hand.words
        assert lengths(hand) == before
        await hand.paste("20\t25")
        assert lengths(hand) == ["20 m", "25 m", *before[2:]]
