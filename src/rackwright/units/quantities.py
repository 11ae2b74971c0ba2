"""Every kind of quantity: its spellings, its examples, and the bounds outside of which a value is surely a slip."""

import re
from typing import ClassVar, Self

from rackwright.units.gauge import LARGEST, SMALLEST, gauge_area, gauge_name, neighbours
from rackwright.units.quantity import Quantity, QuantityError

_FEET_INCHES = re.compile(r"^(\d+(?:\.\d+)?)\s*(?:'|′|ft)\s*(\d+(?:\.\d+)?)\s*(?:\"|″|''|in)$")
_RKM = re.compile(r"^(\d+)[Rr](\d*)$")
_GAUGE = re.compile(
    r"^(?:#\s*(?P<hash>\d{1,4}|[1-4]/0)(?:\s*awg)?|awg\s*#?\s*(?P<before>\d{1,4}|[1-4]/0)"
    r"|(?P<after>\d{1,4}|[1-4]/0)\s*(?:awg|ga|gauge)|(?P<aught>[1-4]/0))$",
    re.IGNORECASE,
)


def _scaled(*groups: tuple[str, float]) -> dict[str, tuple[float, float]]:
    return {word: (factor, 0.0) for words, factor in groups for word in words.split()}


class Length(Quantity, frozen=True, gc=False):
    """A length of cable, in metres."""

    dimension = "a length"
    unit = "m"
    pint_unit = "metre"
    low, high = 0.1, 5000.0
    examples = ("25 m", "80 ft", "80'")
    spellings = _scaled(
        ("m metre metres meter meters", 1.0),
        ("cm", 1e-2),
        ("mm", 1e-3),
        ("km", 1e3),
        ("ft foot feet ' ′", 0.3048),
        ("in inch inches \" ″ ''", 0.0254),
        ("yd yard yards", 0.9144),
    )

    @classmethod
    def _value(cls, text: str) -> float:
        match = _FEET_INCHES.match(text)
        if match is None:
            return super()._value(text)
        return float(match.group(1)) * 0.3048 + float(match.group(2)) * 0.0254


class ConductorSize(Quantity, frozen=True, gc=False):
    """The size of one core: a metric cross-section or an American wire gauge. Value in square metres."""

    gauge: int | None = None
    """The gauge (−3 for 4/0), None for a metric size."""

    dimension = "a conductor size"
    unit = "m²"
    low, high = 0.4999e-6, 35.01e-6
    """The sizes that IEC 60228 class 5 is tabulated for here."""
    examples = ("2.5 mm2", "12 AWG", "1/0 AWG")
    spellings = _scaled(
        ("mm2 mm² mm^2 mm**2 sqmm qmm sq.mm", 1e-6),
        ("cm2 cm² cm^2", 1e-4),
        ("kcmil MCM", 506.707479e-9),
    ) | {"sq mm": (1e-6, 0.0)}

    @classmethod
    def parse(cls, text: object) -> Self:
        """Read a metric size or a gauge. Raises QuantityError."""
        match = _GAUGE.match(text.strip()) if isinstance(text, str) else None
        if match is None or not isinstance(text, str):
            return super().parse(text)
        digits = next(group for group in match.groups() if group)
        gauge = _gauge_number(digits)
        if not LARGEST <= gauge <= SMALLEST:
            raise QuantityError(f'"{text.strip()}" is outside 4/0 AWG to 24 AWG', cls.forms())
        return cls(text.strip(), gauge_area(gauge), gauge)

    @classmethod
    def _ask_pint(cls, text: str, unit: str) -> tuple[float, float]:
        if unit.casefold().endswith(("awg", "ga", "gauge")):
            raise QuantityError(f'"{text}" is not a gauge from 4/0 AWG to 24 AWG', cls.forms())
        if unit == "mm":
            raise QuantityError(f'"{text}" is a length, not {cls.dimension}', cls.forms(), f"{text}2")
        return super()._ask_pint(text, unit)

    @classmethod
    def _out_of_bounds(cls, text: str, value: float) -> QuantityError:
        wrong = f'"{text}" is outside 0.5 to 35 mm², the sizes with a known resistance'
        return QuantityError(wrong, cls.forms())

    def equivalent(self) -> str:
        """The same size in the other system, by area: `3.31 mm²`, or `14 to 13 AWG`."""
        if self.gauge is not None:
            return f"{self.value * 1e6:.3g} mm²"
        thinner, thicker = neighbours(self.value)
        if thinner == thicker:
            return f"as {gauge_name(thinner)}" if 0.995 < gauge_area(thinner) / self.value < 1.005 else ""
        return f"{gauge_name(thinner).removesuffix(' AWG')} to {gauge_name(thicker)}"


def _gauge_number(digits: str) -> int:
    """`12` is 12; `3/0` and `000` are −2."""
    if "/" in digits:
        return 1 - int(digits[0])
    return int(digits) if digits.strip("0") else 1 - len(digits)


class Resistance(Quantity, frozen=True, gc=False):
    """A resistance or an impedance's modulus, in ohms."""

    dimension = "a resistance"
    unit = "Ω"
    pint_unit = "ohm"
    low, high = 0.0, 100e3
    examples = ("4 ohm", "4 Ω", "4R7")
    spellings = _scaled(
        ("ohm ohms \u03a9 \u2126 R r", 1.0),
        ("mohm mohms m\u03a9 m\u2126 milliohm milliohms", 1e-3),
        ("kohm kohms k\u03a9 k\u2126 k", 1e3),
    )

    @classmethod
    def _value(cls, text: str) -> float:
        """Reads the letter-in-place-of-the-point form of IEC 60062 (`4R7`) as well."""
        match = _RKM.match(text)
        return float(f"{match.group(1)}.{match.group(2) or 0}") if match else super()._value(text)


class Impedance(Resistance, frozen=True, gc=False):
    """A load or a driver's impedance: a resistance that cannot be nearly nothing."""

    dimension = "an impedance"
    low, high = 0.1, 10e3


class Power(Quantity, frozen=True, gc=False):
    """A power, in watts."""

    dimension = "a power"
    unit = "W"
    pint_unit = "watt"
    low, high = 0.01, 1e6
    examples = ("800 W", "1.2 kW")
    spellings = _scaled(("W watt watts", 1.0), ("mW", 1e-3), ("kW", 1e3))


class ApparentPower(Quantity, frozen=True, gc=False):
    """An apparent power, in volt-amperes."""

    dimension = "an apparent power"
    unit = "VA"
    pint_unit = "volt*ampere"
    low, high = 10.0, 10e6
    examples = ("40 kVA", "6500 VA")
    spellings = _scaled(("VA", 1.0), ("kVA", 1e3), ("MVA", 1e6))


class Voltage(Quantity, frozen=True, gc=False):
    """A voltage, in volts."""

    dimension = "a voltage"
    unit = "V"
    pint_unit = "volt"
    low, high = 0.01, 1000.0
    examples = ("78 V", "230 V")
    spellings = _scaled(("V volt volts Vrms", 1.0), ("mV", 1e-3), ("kV", 1e3))


class InputLevel(Quantity, frozen=True, gc=False):
    """A level at an amplifier's input as the processor shows it, in dBu: 0 dBu is 0.7746 V rms."""

    dimension = "an input level"
    unit = "dBu"
    low, high = -60.0, 40.0
    examples = ("5.2 dBu",)
    spellings: ClassVar = {"dBu": (1.0, 0.0), "dbu": (1.0, 0.0), "dBU": (1.0, 0.0)}


class LimiterSetting(Quantity, frozen=True, gc=False):
    """A limiter as it is set: volts at the amplifier output, or the level in dBu that the processor shows."""

    dimension = "a limiter setting"
    unit = "V"
    examples = ("78 V", "5.2 dBu")

    @classmethod
    def parse(cls, text: object) -> Self:
        """Read volts or dBu; `value` is in the one that was typed. Raises QuantityError as for any quantity."""
        as_level = isinstance(text, str) and text.strip().casefold().endswith("dbu")
        try:
            read: Quantity = InputLevel.parse(text) if as_level else Voltage.parse(text)
        except QuantityError as error:
            raise QuantityError(error.wrong, cls.forms(), error.likely) from None
        return cls(read.text, read.value)

    @property
    def in_dbu(self) -> bool:
        """Whether it is a level at the input, and not volts at the output."""
        return self.text.casefold().endswith("dbu")


class Current(Quantity, frozen=True, gc=False):
    """A current, in amperes."""

    dimension = "a current"
    unit = "A"
    pint_unit = "ampere"
    low, high = 0.01, 10e3
    examples = ("16 A", "40 A")
    spellings = _scaled(("A amp amps ampere amperes", 1.0), ("mA", 1e-3), ("kA", 1e3))


class ResidualCurrent(Current, frozen=True, gc=False):
    """A current to earth, in amperes: what leaks, and what a residual-current device trips at."""

    dimension = "a residual current"
    low, high = 1e-5, 10.0
    examples = ("30 mA", "1 mA")


class Frequency(Quantity, frozen=True, gc=False):
    """A frequency, in hertz. pint is not asked: it reads 90 rpm as 9.42 Hz, for want of the radian."""

    dimension = "a frequency"
    unit = "Hz"
    low, high = 1.0, 100e3
    examples = ("90 Hz", "1.2 kHz")
    spellings = _scaled(("Hz hertz cps", 1.0), ("kHz k", 1e3), ("MHz", 1e6))

    def __str__(self) -> str:
        """As it was written, `1.6k` with its unit."""
        return f"{self.text[:-1].rstrip()} kHz" if self.text.endswith("k") else self.text


class Temperature(Quantity, frozen=True, gc=False):
    """A temperature of cable or coil, in degrees Celsius.

    The one departure from SI: the field, its tables and its formulae all count from 0 °C.
    """

    dimension = "a temperature"
    unit = "°C"
    low, high = -50.0, 350.0
    examples = ("30 degC", "86 degF", "30 °C")
    spellings = {
        **dict.fromkeys(("degC", "°C", "C", "celsius", "deg C", "° C", "℃"), (1.0, 0.0)),
        **dict.fromkeys(("degF", "°F", "F", "fahrenheit", "deg F", "° F", "℉"), (5 / 9, -160 / 9)),
        **dict.fromkeys(("K", "kelvin"), (1.0, -273.15)),
    }


class Level(Quantity, frozen=True, gc=False):
    """A ratio of levels, in decibels."""

    dimension = "a level"
    unit = "dB"
    low, high = 0.0, 120.0
    examples = ("0.5 dB", "32 dB")
    spellings = _scaled(
        ("dB decibel decibels", 1.0),
    )


class Trim(Quantity, frozen=True, gc=False):
    """An input attenuator's setting, in decibels: 0 or less."""

    dimension = "a trim"
    unit = "dB"
    low, high = -80.0, 0.0
    examples = ("-3 dB", "0 dB")
    spellings = _scaled(("dB decibel decibels", 1.0))


class Duration(Quantity, frozen=True, gc=False):
    """How long something takes, in seconds."""

    dimension = "a duration"
    unit = "s"
    pint_unit = "second"
    low, high = 0.0, 86400.0
    examples = ("20 s", "5 min")
    spellings = _scaled(("s sec second seconds", 1.0), ("min minute minutes", 60.0), ("h hour hours", 3600.0))


class Inductance(Quantity, frozen=True, gc=False):
    """An inductance, in henries."""

    dimension = "an inductance"
    unit = "H"
    pint_unit = "henry"
    low, high = 0.0, 0.1
    examples = ("1.4 mH", "80 uH")
    spellings = _scaled(("H henry henries", 1.0), ("mH", 1e-3), ("uH µH μH", 1e-6))


class LineInductance(Quantity, frozen=True, gc=False):
    """An inductance of a cable's pair by its length, in henries a metre."""

    dimension = "an inductance by the metre"
    unit = "H/m"
    low, high = 0.0, 1e-5
    examples = ("0.65 uH/m",)
    spellings = _scaled(
        ("uH/m µH/m μH/m mH/km", 1e-6), ("nH/m uH/km µH/km", 1e-9), ("uH/ft µH/ft μH/ft", 1e-6 / 0.3048)
    )


class Capacitance(Quantity, frozen=True, gc=False):
    """A capacitance, in farads."""

    dimension = "a capacitance"
    unit = "F"
    pint_unit = "farad"
    low, high = 1e-7, 0.01
    examples = ("33 uF", "4.7 µF")
    spellings = _scaled(("F farad farads", 1.0), ("mF", 1e-3), ("uF µF μF mfd", 1e-6), ("nF", 1e-9))


class Mass(Quantity, frozen=True, gc=False):
    """A mass, in kilograms."""

    dimension = "a weight"
    unit = "kg"
    pint_unit = "kilogram"
    low, high = 0.01, 5000.0
    examples = ("14 kg", "31 lb")
    spellings = _scaled(("kg", 1.0), ("g", 1e-3), ("lb lbs pound pounds", 0.45359237), ("t", 1e3))
