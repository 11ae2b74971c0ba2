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

    .. [1] Small, "Direct-Radiator Loudspeaker System Analysis", JAES 20(5), 1972.
    .. [2] IEC 60028: copper. Good up to some 250 °C, where coils give way (common practice, no source).
    """
    equipment = rig.equipment
    models = tuple(_heated_model(model, temperature) for model in equipment.loudspeakers)
    return replace(rig, equipment=replace(equipment, loudspeakers=models))


def _heated_model(model: LoudspeakerModel, temperature: float) -> LoudspeakerModel:
    return replace(model, sections=tuple(heated_section(section, temperature) for section in model.sections))


def heated_section(section: Section, temperature: float) -> Section:
    """A section with its coil at `temperature` (°C), its data sheet being for 20 °C."""
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
