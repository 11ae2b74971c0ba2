"""A rig with hot voice coils: the same rig, its drivers' resistance raised to a stated coil temperature.

Assess the rig that `heated` gives to see power, damping and Q with the coils hot. Load limits and ratings
are for cold coils; judge those by the rig itself.
"""

from msgspec.structs import replace

from rackwright.engine.loudspeaker import hot_resistance
from rackwright.model.equipment import LoudspeakerModel, Section
from rackwright.model.rig import Rig
from rackwright.units import Impedance, Resistance


def heated(rig: Rig, temperature: float) -> Rig:
    """`rig` with every voice coil at `temperature` (°C), data sheets being for 20 °C.

    The coil's added resistance comes in series: Z_hot = Z + Re_hot − Re; Qes rises as Re does, Qes = 2πfs·Re·Cmes [1]_. Re
    by 0.393 % per kelvin [2]_.

    >>> [round(m.sections[0].dc_resistance.value, 2) for m in heated(index.rig, 150.0).equipment.loudspeakers[:1]]
    [8.16]

    .. [1] Small, "Direct-Radiator Loudspeaker System Analysis", JAES 20(5), 1972.
    .. [2] IEC 60028: copper. Good up to some 250 °C, where coils give way (common practice, no source).
    """
    equipment = rig.equipment
    models = tuple(_heated_model(model, temperature) for model in equipment.loudspeakers)
    return replace(rig, equipment=replace(equipment, loudspeakers=models))


def _heated_model(model: LoudspeakerModel, temperature: float) -> LoudspeakerModel:
    return replace(model, sections=tuple(heated_section(section, temperature) for section in model.sections))


def heated_section(section: Section, temperature: float) -> Section:
    """A section with its coil at `temperature` (°C), its data sheet being for 20 °C.

    R as of `loudspeaker.hot_resistance` [1]_, Qes in proportion to R [2]_, the nominal impedance by as many Ω more.

    >>> hot = heated_section(sub, 120.0)
    >>> round(hot.dc_resistance.value, 2), round(hot.driver.qes, 3)
    (7.52, 0.529)

    .. [1] IEC 60028.
    .. [2] Small, "Direct-Radiator Loudspeaker System Analysis", JAES 20(5), 1972.
    """
    cold = section.dc_resistance.value
    hot = hot_resistance(cold, temperature)
    nominal = section.nominal.value + hot - cold
    driver = section.driver and replace(section.driver, qes=section.driver.qes * hot / cold)
    return replace(
        section,
        nominal=Impedance(f"{nominal:.6g} ohm", nominal),
        dc_resistance=Resistance(f"{hot:.6g} ohm", hot),
        driver=driver,
    )
