"""What a person types, to SI: the forms accepted, the sentences for those that are not, the factors against their source."""

import math

import pint
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from rackwright.units import (
    ApparentPower,
    ConductorSize,
    Current,
    Frequency,
    Impedance,
    Inductance,
    InputLevel,
    Length,
    Level,
    Mass,
    Power,
    Quantity,
    QuantityError,
    Resistance,
    Temperature,
    Trim,
    Voltage,
    gauge_area,
    of_si,
)

KINDS = (*(kind for kind in Quantity.__subclasses__() if kind.spellings), Impedance)
kinds = st.sampled_from(KINDS)


SHOWN = {
    "-10 C": "−10 C",
    "1.2k": "1.2 kHz",
    "2.5 mm2": "2.5 mm²",
    "2.5mm2": "2.5 mm²",
    "2.5 mm^2": "2.5 mm²",
    "4 ohm": "4 Ω",
    "2 mohm": "2 mΩ",
    "2.2 kohm": "2.2 kΩ",
    "0 ohm": "0 Ω",
    "8 ohm": "8 Ω",
    "30 degC": "30 °C",
    "30degC": "30 °C",
    "86 degF": "86 °F",
    "80 uH": "80 µH",
    "25m": "25 m",
    "80ft": "80 ft",
    "4Ω": "4 Ω",
    "230V": "230 V",
    "230v": "230 v",
    "80uH": "80 µH",
}
"""What is typed on a keyboard → the same with its unit as the SI brochure (BIPM, 9th ed., 5.4) and print have it."""


@pytest.mark.parametrize(
    ("kind", "text", "value"),
    [
        (Length, "25m", 25),
        (Length, "25 m", 25),
        (Length, "25 M", 25),
        (Length, "2,5 m", 2.5),
        (Length, ".5 m", 0.5),
        (Length, "1.2e2 m", 120),
        (Length, "+25 m", 25),
        (Length, "25\u00a0m", 25),
        (Length, "80ft", 24.384),
        (Length, "80 feet", 24.384),
        (Length, "80'", 24.384),
        (Length, "80′", 24.384),
        (Length, "80' 6\"", 24.5364),
        (Length, "6ft 3in", 1.905),
        (Length, "30 yd", 27.432),
        (ConductorSize, "2.5mm2", 2.5e-6),
        (ConductorSize, "2.5 mm²", 2.5e-6),
        (ConductorSize, "1,5 mm²", 1.5e-6),
        (ConductorSize, "2.5 mm^2", 2.5e-6),
        (ConductorSize, "2.5 sq mm", 2.5e-6),
        (ConductorSize, "2.5 sqmm", 2.5e-6),
        (ConductorSize, "2.5 MM2", 2.5e-6),
        (ConductorSize, "20 kcmil", 20e3 * 506.7075e-12),
        (Resistance, "4Ω", 4),
        (Resistance, "4 \u2126", 4),
        (Resistance, "4 ohm", 4),
        (Resistance, "4R", 4),
        (Resistance, "4R7", 4.7),
        (Resistance, "0R22", 0.22),
        (Resistance, "2 mohm", 2e-3),
        (Resistance, "2 mΩ", 2e-3),
        (Resistance, "2 m\u2126", 2e-3),
        (Resistance, "2.2 kohm", 2200),
        (Resistance, "0 ohm", 0),
        (Impedance, "8 ohm", 8),
        (Power, "1.2 kW", 1200),
        (Power, "1.2 KW", 1200),
        (Power, "800 watts", 800),
        (ApparentPower, "40 kVA", 40e3),
        (Voltage, "230V", 230),
        (Voltage, "230v", 230),
        (Voltage, "78 Vrms", 78),
        (Current, "16 A", 16),
        (Current, "16 amps", 16),
        (Frequency, "90 Hz", 90),
        (Frequency, "1.2 kHz", 1200),
        (Frequency, "1.2k", 1200),
        (Temperature, "30 degC", 30),
        (Temperature, "30degC", 30),
        (Temperature, "30 °C", 30),
        (Temperature, "-10 C", -10),
        (Temperature, "86 F", 30),
        (Temperature, "86 degF", 30),
        (Temperature, "303.15 K", 30),
        (Level, "0.5 dB", 0.5),
        (Inductance, "1.4 mH", 1.4e-3),
        (Inductance, "80 uH", 80e-6),
        (Inductance, "80uH", 80e-6),
        (Inductance, "80 µH", 80e-6),
        (Mass, "14 kg", 14),
        (Mass, "31 lb", 14.06136347),
    ],
)
def test_accepted_form(kind, text, value):
    quantity = kind.parse(f"  {text} ")
    assert quantity.value == pytest.approx(value, rel=1e-7, abs=1e-12)
    assert quantity.text == text
    assert str(quantity) == SHOWN.get(text, text)


def test_a_minus_as_it_is_printed_is_read_and_kept_as_a_keyboard_has_it():
    assert Trim.parse("−3 dB") == Trim.parse("-3 dB")
    assert Trim.parse("−3 dB").text.isascii()


@pytest.mark.parametrize(
    ("text", "gauge"),
    [
        ("12 AWG", 12),
        ("12awg", 12),
        ("12 ga", 12),
        ("12 gauge", 12),
        ("#12", 12),
        ("#12 AWG", 12),
        ("AWG 12", 12),
        ("AWG #12", 12),
        ("0 AWG", 0),
        ("1/0 AWG", 0),
        ("1/0", 0),
        ("00 AWG", -1),
        ("4/0 AWG", -3),
        ("0000 AWG", -3),
        ("24 AWG", 24),
    ],
)
def test_accepted_gauge(text, gauge):
    size = ConductorSize.parse(text)
    assert (size.gauge, size.value, size.text) == (gauge, gauge_area(gauge), text)


LENGTH = 'Write a length such as "25 m", "80 ft" or "80\'"'
SIZE = 'Write a conductor size such as "2.5 mm2", "12 AWG" or "1/0 AWG".'
OHMS = 'Write a resistance such as "4 ohm", "4 Ω" or "4R7".'


@pytest.mark.parametrize(
    ("kind", "given_text", "message"),
    [
        (Length, "25", f'"25" has no unit. {LENGTH}. Did you mean "25 m"?'),
        (Length, "2,5", f'"2,5" has no unit. {LENGTH}. Did you mean "2.5 m"?'),
        (Length, "0", f'"0" has no unit. {LENGTH}.'),
        (Length, 25, f'25 is a plain number with no unit. {LENGTH}, in quotes. Did you mean "25 m"?'),
        (Length, 1e9, f"1000000000.0 is a plain number with no unit. {LENGTH}, in quotes."),
        (Length, True, f"True is not a length. {LENGTH}, in quotes."),
        (Length, None, f"None is not a length. {LENGTH}, in quotes."),
        (Length, "", f'"" is not a length. {LENGTH}.'),
        (Length, "long", f'"long" is not a length. {LENGTH}.'),
        (Length, "25 V", f'"25 V" is a voltage, not a length. {LENGTH}.'),
        (Length, "2.5 mm2", f'"2.5 mm2" is a conductor size, not a length. {LENGTH}.'),
        (Length, "10 zorks", f'"zorks" in "10 zorks" is not a unit of a length. {LENGTH}.'),
        (Length, "5 gallon", f'"gallon" in "5 gallon" is not a unit of a length. {LENGTH}.'),
        (Length, "0 m", f'"0 m" is not above zero, as a length must be. {LENGTH}.'),
        (Length, "-5 m", f'"-5 m" is not above zero, as a length must be. {LENGTH}. Did you mean "5 m"?'),
        (
            Length,
            "25 mm",
            f'"25 mm" is below 0.1 m, the limit for a length here. {LENGTH}. Did you mean "25 m"?',
        ),
        (
            Length,
            "25 km",
            f'"25 km" is above 5000 m, the limit for a length here. {LENGTH}. Did you mean "25 m"?',
        ),
        (Length, "1e999 m", f'"1e999 m" is not a finite number. {LENGTH}.'),
        (
            Length,
            "1,500 m",
            f'The comma in "1,500 m" could mean thousands or decimals. {LENGTH}. Did you mean "1500 m"?',
        ),
        (
            Length,
            "1,500",
            f'The comma in "1,500" could mean thousands or decimals. {LENGTH}. Did you mean "1500 m"?',
        ),
        (Length, "9,500 m", f'The comma in "9,500 m" could mean thousands or decimals. {LENGTH}.'),
        (Length, "25 %", f'"%" in "25 %" is not a unit of a length. {LENGTH}.'),
        (
            Level,
            "5 dBu",
            '"5 dBu" is an input level, not a level. Write a level such as "0.5 dB" or "32 dB".',
        ),
        (InputLevel, "5", '"5" has no unit. Write an input level such as "5.2 dBu". Did you mean "5 dBu"?'),
        (ConductorSize, "12 m", f'"12 m" is a length, not a conductor size. {SIZE}'),
        (ConductorSize, "2.5", f'"2.5" has no unit. {SIZE} Did you mean "2.5 mm2"?'),
        (
            ConductorSize,
            "2.5 mm",
            f'"2.5 mm" is a length, not a conductor size. {SIZE} Did you mean "2.5 mm2"?',
        ),
        (ConductorSize, "25 AWG", f'"25 AWG" is outside 4/0 AWG to 24 AWG. {SIZE}'),
        (ConductorSize, "00000 AWG", f'"00000 AWG" is not a gauge from 4/0 AWG to 24 AWG. {SIZE}'),
        (ConductorSize, "5/0 AWG", f'"5/0 AWG" is not a gauge from 4/0 AWG to 24 AWG. {SIZE}'),
        (ConductorSize, "12.5 AWG", f'"12.5 AWG" is not a gauge from 4/0 AWG to 24 AWG. {SIZE}'),
        (
            ConductorSize,
            "300 mm2",
            f'"300 mm2" is outside 0.5 to 35 mm², the sizes with a known resistance. {SIZE}',
        ),
        (
            Resistance,
            "-1 ohm",
            f'"-1 ohm" is below 0 Ω, the limit for a resistance here. {OHMS} Did you mean "1 ohm"?',
        ),
        (
            Resistance,
            "2 Mohm",
            f'"2 Mohm" is above 100000 Ω, the limit for a resistance here. {OHMS} Did you mean "2 ohm"?',
        ),
        (
            Impedance,
            "0 ohm",
            '"0 ohm" is not above zero, as an impedance must be. Write an impedance such as "4 ohm", "4 Ω" or "4R7".',
        ),
        (
            Power,
            "1 VA",
            '"1 VA" is an apparent power, not a power. Write a power such as "800 W" or "1.2 kW".',
        ),
        (
            Frequency,
            "90 rpm",
            '"rpm" in "90 rpm" is not a unit of a frequency. Write a frequency such as "90 Hz" or "1.2 kHz".',
        ),
        (
            Temperature,
            "-60 degC",
            '"-60 degC" is below −50 °C, the limit for a temperature here. '
            'Write a temperature such as "30 degC", "86 degF" or "30 °C".',
        ),
    ],
)
def test_refused_with_what_is_wrong_the_forms_and_the_likely_meaning(kind, given_text, message):
    with pytest.raises(QuantityError) as refusal:
        kind.parse(given_text)
    assert str(refusal.value) == message


@pytest.mark.parametrize(
    ("kind", "milli", "mega"),
    [(Resistance, "mΩ", "MΩ"), (Power, "mW", "MW"), (Voltage, "mV", "MV"), (Current, "mA", "MA")],
)
def test_mega_is_never_read_as_milli(kind, milli, mega):
    """SI brochure (9th edition), table 7: the case of a prefix is its meaning."""
    assert kind.parse(f"500 {milli}").value == pytest.approx(0.5)
    with pytest.raises(QuantityError, match="is above"):
        kind.parse(f"500 {mega}")


@pytest.mark.parametrize(
    ("kind", "text", "value"),
    # NIST Special Publication 811 (2008), appendix B.8, factors from memory. In bold there, so exact: foot, inch,
    # yard. The pound is exact by its definition (note 22). Fathom and ounce are in no table here: pint is asked.
    [
        (Length, "10 ft", 3.048),
        (Length, "100 in", 2.54),
        (Length, "10 yd", 9.144),
        (Mass, "1 lb", 0.45359237),
        (Temperature, "32 degF", 0),
        (Temperature, "212 degF", 100),
        (Temperature, "273.15 K", 0),
        (ConductorSize, "10 kcmil", 5.067075e-6),
        (Length, "1 fathom", 1.828804),
        (Mass, "1 ounce", 2.834952e-2),
        (Power, "1 horsepower", 7.456999e2),
    ],
)
def test_factors_of_nist_sp_811(kind, text, value):
    assert kind.parse(text).value == pytest.approx(value, rel=2e-7, abs=1e-12)


def test_foot_inch_yard_and_pound_are_exact():
    """NIST SP 811 (2008), appendix B.6: 1 ft = 0.3048 m exactly, and the inch, yard and pound follow."""
    assert Length.parse("1 ft").value == 0.3048
    assert Length.parse("10 in").value == 10 * 0.0254
    assert Length.parse("1 yd").value == 0.9144
    assert Mass.parse("1 lb").value == 0.45359237


PINT_UNIT = {
    Length: "metre", ConductorSize: "metre**2", Resistance: "ohm", Power: "watt", ApparentPower: "volt*ampere",
    Voltage: "volt", Current: "ampere", Frequency: "hertz", Temperature: "degC", Inductance: "henry", Mass: "kilogram",
}  # fmt: skip
UNKNOWN_TO_PINT = {
    # Signs and shop-floor abbreviations that its registry lacks.
    "'", "′", '"', "″", "''", "mm2", "cm2", "sqmm", "qmm", "sq.mm", "sq mm", "MCM", "mohm", "mohms", "kohm", "kohms",
    "r", "Vrms", "amps", "amp", "celsius", "fahrenheit", "deg C", "deg F", "° C", "° F", "℃", "℉", "lbs", "henries",
    "\u2126", "m\u2126", "k\u2126",
    # Letters that stand for another quantity there: gas constant, Boltzmann constant, coulomb, farad.
    "R", "k", "C", "F",
}  # fmt: skip


def pint_value(registry, unit, into):
    """What pint makes of one such unit; None where it knows none of that dimension."""
    try:
        return registry.Quantity(1.0, unit).to(into).magnitude
    except Exception:
        return None


@pytest.fixture(scope="module")
def registry():
    return pint.UnitRegistry()


@pytest.mark.parametrize("kind", PINT_UNIT)
def test_every_spelling_agrees_with_the_registry_of_pint(kind, registry):
    """pint's default registry, a general-purpose library."""
    differing, unknown = {}, set()
    for unit, (factor, offset) in kind.spellings.items():
        value = pint_value(registry, unit, PINT_UNIT[kind])
        if value is None:
            unknown.add(unit)
        elif value != pytest.approx(factor + offset, rel=1e-8):
            differing[unit] = value
    assert not differing
    assert unknown <= UNKNOWN_TO_PINT
    assert len(unknown) < len(kind.spellings)


@pytest.mark.parametrize("kind", [kind for kind in PINT_UNIT if kind.pint_unit])
def test_a_unit_half_typed_is_none_that_pint_knows(kind, registry):
    """So that nothing is lost by not asking pint, which takes long to load, at each key."""
    half = {unit[:end] for unit in kind.spellings for end in range(1, len(unit))} - kind.spellings.keys()
    assert half
    assert not {unit for unit in half if pint_value(registry, unit, PINT_UNIT[kind]) is not None}


def test_a_unit_half_typed_is_refused_without_asking_pint(monkeypatch):
    monkeypatch.setattr("rackwright.units.quantity._pint_factor", None)
    with pytest.raises(QuantityError, match='"oh" in "8 oh" is not a unit of'):
        Resistance.parse("8 oh")


def attempt(kind, typed):
    """The quantity, or the refusal."""
    try:
        return kind.parse(typed)
    except QuantityError as refusal:
        return refusal


def within(kind):
    """Values well inside the bounds of a kind, spread over the decades."""
    if kind is Temperature:
        return st.floats(-49.9, 349)
    low, high = max(kind.low, 1e-5), kind.high
    return st.floats(math.log10(low) + 1e-4, math.log10(high) - 1e-4).map(lambda x: 10**x)


@given(kinds.flatmap(lambda kind: st.tuples(st.just(kind), within(kind))))
@example((Power, 1e6))
@example((Inductance, 1e-7))
def test_written_from_si_it_reads_back(drawn):
    kind, value = drawn
    written = of_si(kind, value)
    assert written.value == pytest.approx(value, rel=1e-5, abs=1e-7 if kind is Temperature else 0)
    assert kind.parse(written.text) == written
    assert "e" not in written.text.split()[0]


@given(
    kinds.flatmap(lambda kind: st.tuples(st.just(kind), st.sampled_from(sorted(kind.spellings)))), st.data()
)
def test_point_comma_and_spacing_make_no_difference(drawn, data):
    kind, unit = drawn
    factor, offset = kind.spellings[unit]
    edges = sorted((bound - offset) / factor for bound in (kind.low, min(kind.high, 1e6)))
    number = data.draw(st.floats(edges[0], edges[1]).map(lambda x: f"{x:.4f}"))
    for text in (f"{number} {unit}", f"{number}{unit}", f"{number.replace('.', ',')}  {unit}"):
        read = attempt(kind, text)
        if isinstance(read, QuantityError):  # four decimals of a large unit may round to nothing
            assert any(word in str(read) for word in ("the limit", "above zero", "outside"))
        else:
            assert read.value == pytest.approx(factor * float(number) + offset, rel=1e-9, abs=1e-12)


unit_like = st.sampled_from(
    sorted({unit for kind in KINDS for unit in kind.spellings} | {"", "AWG", "#", "/0", "x"})
)
number_like = st.sampled_from(["0", "-1", "1e400", "5" * 400, "1,500", "1.5", "12", "٣", "1/0", ""])


@given(
    kinds,
    st.one_of(
        st.text(max_size=12),
        st.builds("{}{}{}".format, number_like, st.sampled_from(["", " "]), unit_like),
        st.none() | st.booleans() | st.integers() | st.floats() | st.lists(st.integers()),
    ),
)
def test_anything_at_all_is_a_quantity_or_a_sentence(kind, typed):
    read = attempt(kind, typed)
    if isinstance(read, QuantityError):
        assert f"Write {kind.forms()}" in str(read)
        assert not read.likely or isinstance(kind.parse(read.likely), Quantity)
    else:
        assert math.isfinite(read.value)
        assert kind.low <= read.value <= kind.high or read.gauge is not None
