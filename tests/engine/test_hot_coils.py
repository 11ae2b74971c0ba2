"""A rig whose voice coils are hot: what rises with the coil's resistance, and what the heat leaves as it is."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rackwright.engine.hot_coils import heated
from rackwright.model.equipment import Section
from rigs import SOUND, SUB_SECTION


def hot(temperature: float) -> Section:
    models = {model.id: model for model in heated(SOUND, temperature).equipment.loudspeakers}
    return models["double"].section("upper")


@pytest.mark.parametrize(("celsius", "rise"), [(20, 0.0), (120, 0.393), (220, 0.786), (-10, -0.1179)])
def test_a_hot_coil_adds_its_rise_in_series(celsius, rise):
    """IEC 60028: copper's resistance rises by 0.393 % a kelvin of that at 20 °C. The rest of the impedance stays."""
    cold, section = SUB_SECTION, hot(celsius)
    added = rise * cold.dc_resistance.value
    assert section.dc_resistance.value - cold.dc_resistance.value == pytest.approx(added)
    assert section.nominal.value - cold.nominal.value == pytest.approx(added)


@given(st.floats(-20, 250))
def test_the_moving_part_stays_as_it_is(celsius):
    """Small (JAES 20(5), 1972): Cmes = Qes/(2πfs·Re) and Res = Re·Qms/Qes stand for mass and losses, not for the coil."""
    electrical = [
        (
            driver.qes / (2 * math.pi * driver.fs.value * s.dc_resistance.value),
            s.dc_resistance.value * driver.qms / driver.qes,
            driver.fs.value,
        )
        for s in (SUB_SECTION, hot(celsius))
        if (driver := s.driver)
    ]
    assert electrical[1] == pytest.approx(electrical[0])
