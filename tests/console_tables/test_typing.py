"""What typing in a form moves on the screen, and what it leaves where it is."""

from rackwright.console.screens.equipment_form import EquipmentForm

from .bench import LIBRARY, Bench, hall, open_table, press, shown, write


async def test_what_is_told_of_a_field_takes_the_lines_it_needs_and_gives_them_back() -> None:
    app = Bench(hall())
    async with app.run_test(size=(80, 24)) as pilot:
        await open_table(pilot, LIBRARY)
        await press(pilot, "a", *["down"] * 4)
        assert isinstance(app.screen, EquipmentForm)
        await write(pilot, "half a kilowatt")
        told = _lines_between(shown(app.screen), "Rated power, channel", "Rated power, bridged")
        assert len(told) == 2
        assert '"half a kilowatt" is not a figure at a load.' in told[0]
        assert "such as 1100 W at 8 ohm " in told[1]
        await write(pilot, "500 W at 8 ohm")
        (told_now,) = _lines_between(shown(app.screen), "Rated power, channel", "Rated power, bridged")
        assert "the lowest 8 Ω" in told_now


async def test_of_a_text_longer_than_its_field_the_part_at_the_cursor_is_shown() -> None:
    app = Bench(hall())
    async with app.run_test(size=(80, 24)) as pilot:
        await open_table(pilot, LIBRARY)
        await press(pilot, "a")
        await write(pilot, "front-of-house-amplifier-nine")
        assert "amplifier-nine" in shown(app.screen)
        assert "front-of" not in shown(app.screen)
        await press(pilot, "home")
        assert "front-of" in shown(app.screen)
        assert "amplifier-nine" not in shown(app.screen)


def _lines_between(text: str, first: str, last: str) -> list[str]:
    lines = text.splitlines()
    at = [next(number for number, line in enumerate(lines) if label in line) for label in (first, last)]
    return lines[at[0] + 1 : at[1]]
