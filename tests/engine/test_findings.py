"""Every judgement: a rig that raises it, with its figure and its limit, and the same rig repaired.

The figures are worked by hand from 8 Ω sections, an amplifier of 1100 W (93.81 V) at 8 Ω with 20 mΩ of output
resistance, and 2.5 mm² of 7.98 mΩ/m with four contacts of 2 mΩ a line: 10 m are 0.1676 Ω.
"""

import re
from typing import NamedTuple

import pytest
from msgspec.structs import replace

from rackwright.engine.assess import assess
from rackwright.engine.finding import SEVERITIES
from rackwright.model.equipment import LoudspeakerModel
from rackwright.model.rig import Rig, Targets
from rackwright.model.rules import check
from rackwright.units import (
    Capacitance,
    Current,
    Frequency,
    Impedance,
    Length,
    Level,
    LimiterSetting,
    Power,
    Resistance,
    Trim,
)
from rigs import (
    DUO,
    FEEDS,
    SOUND,
    SUB,
    TOP,
    WOOFER,
    amplifier,
    cabinet,
    changed,
    feed,
    line,
    ratings,
    rig,
    socket,
    without,
)

ONE = rig(
    amplifier("A1", "sub", "sub"),
    socket("S1", "A1.1", "A1.2"),
    line("L1", "S1", "C1"),
    cabinet("C1", "woofer"),
)
"""A woofer on the first of two channels: 8.1676 Ω, 11.49 A, 1055 W in it, damping factor 42.6."""

CHAIN = rig(
    amplifier("A1", "sub", "sub"),
    socket("S1", "A1.1", "A1.2"),
    line("L1", "S1", "C1"),
    line("L2", "C1", "C2", "5 m"),
    cabinet("C1", "woofer"),
    cabinet("C2", "woofer"),
)

HEAVY = rig(
    amplifier("A1", "sub", model="stout"),
    socket("S1", "A1.1"),
    line("L1", "S1", "C1"),
    line("L2", "C1", "C2", "5 m"),
    cabinet("C1", "double", "joined"),
    cabinet("C2", "double", "joined"),
)
"""Four sections of 8 Ω on a channel that is rated down to 4 Ω."""

THREE = rig(
    amplifier("A1", "sub", "sub"),
    socket("S1", "A1.1", "A1.2"),
    socket("S2", "A1.1"),
    line("L1", "S1", "C1"),
    line("L2", "S1", "C2"),
    line("L3", "S2", "C3"),
    cabinet("C1", "woofer"),
    cabinet("C2", "woofer", "second"),
    cabinet("C3", "woofer"),
)


def power(watts: str) -> Rig:
    """ONE with a woofer of another continuous power."""
    (cone,) = WOOFER.sections
    return changed(ONE, "woofer", sections=(replace(cone, continuous=Power.parse(watts)),))


def limited(before: Rig, **limiters: str) -> Rig:
    """With limiters on the feed sub: `rms` and `peak`."""
    return changed(
        before, "sub", **{f"limiter_{kind}": LimiterSetting.parse(volts) for kind, volts in limiters.items()}
    )


def coil(ohms: str) -> Rig:
    """A sub on an amplifier rated for 8 Ω only, its coil of that DC resistance."""
    sections = tuple(replace(s, dc_resistance=Resistance.parse(ohms)) for s in SUB.sections)
    before = changed(SOUND, "duo", ratings=ratings(("8 ohm", "1100 W")))
    return changed(before, "double", sections=sections)


def fitted(capacitor: str) -> Rig:
    """SOUND with a capacitor in series with the horn."""
    mid, horn = TOP.sections
    return changed(SOUND, "top", sections=(mid, replace(horn, capacitor=Capacitance.parse(capacitor))))


def band(name: str, low: str, high: str, before: Rig = SOUND) -> Rig:
    return changed(before, name, band=(Frequency.parse(low), Frequency.parse(high)))


def patched(*feeds: str) -> Rig:
    """SOUND with other feeds on the amplifier of the top."""
    (again,) = rig(amplifier("A2", *feeds, unit=3)).amplifiers()
    return changed(SOUND, "A2", channels=again.channels)


def metres(length: str, before: Rig = ONE) -> Rig:
    return changed(before, "L1", length=Length.parse(length))


def bridged(mode: str, trim: str = "0 dB") -> Rig:
    """A woofer on each of two amplifiers with one feed, the second amplifier in that mode, the first trimmed."""
    before = rig(
        amplifier("A1", "sub", "sub"),
        amplifier("A2", "sub", "sub", unit=3, mode=mode),
        socket("S1", "A1.1", "A1.2"),
        socket("S2", "A2.1"),
        line("L1", "S1", "C1"),
        line("L2", "S2", "C2"),
        cabinet("C1", "woofer"),
        cabinet("C2", "woofer"),
    )
    return trimmed_by(before, "A1", trim)


def trimmed_by(before: Rig, name: str, trim: str) -> Rig:
    """With the first channel of an amplifier trimmed."""
    (first, *others) = next(each for each in before.amplifiers() if each.id == name).channels
    return changed(before, name, channels=(replace(first, trim=Trim.parse(trim)), *others))


def two_gains(gain: str, first: str | None = None, second: str | None = None) -> Rig:
    """A woofer of 8 Ω behind 32 dB and one of 4 Ω behind `gain` on one feed, each of that sensitivity."""
    (cone,) = WOOFER.sections
    eight, four = (
        replace(
            cone,
            nominal=Impedance.parse(ohms),
            dc_resistance=Resistance.parse("2.7 ohm"),
            sensitivity=Level.parse(stated) if stated else None,
        )
        for ohms, stated in (("8 ohm", first), ("4 ohm", second))
    )
    before = bridged("dual")
    equipment = replace(
        before.equipment,
        amplifiers=(*before.equipment.amplifiers, replace(DUO, id="hot", gain=Level.parse(gain))),
        loudspeakers=(replace(WOOFER, sections=(eight,)), replace(WOOFER, id="low-ohm", sections=(four,))),
    )
    return changed(changed(replace(before, equipment=equipment), "A2", model="hot"), "C2", model="low-ohm")


class Case(NamedTuple):
    code: str
    severity: str
    at: str
    broken: Rig
    mended: Rig
    says: tuple[str, ...]
    """What the message must hold: figure, limit, names."""


AMPS_6, AMPS_10 = Current.parse("6.5 A"), Current.parse("10 A")

CASES = {
    "load under the lowest rated": Case(
        "load-below-minimum", "stop", "A1.1",
        HEAVY, without(HEAVY, "L2", "C2"),
        ("2 Ω", "4 Ω", "A1"),
    ),
    "one load under the lowest rated": Case(
        "load-below-minimum", "stop", "A1.1",
        changed(without(HEAVY, "L2", "C2"), "stout", ratings=ratings(("8 ohm", "1100 W"))), without(HEAVY, "L2", "C2"),
        ("4 Ω", "8 Ω", "A1"),
    ),
    "bridged load under twice the lowest rated": Case(
        "load-below-minimum", "stop", "A1.1",
        changed(HEAVY, "A1", mode="bridged", model="duo"), changed(HEAVY, "A1", model="duo"),
        ("2 Ω", "4 Ω", "A1 bridged"),
    ),
    "impedance that dips in the band": Case(
        # The coil's 4 Ω leave about 5.5 Ω at the tuning; an 8 Ω rating implies 0.8 × 8 Ω (IEC 60268-5).
        "impedance-dips", "warn", "A1.1", coil("4 ohm"), coil("5.4 ohm"), ("to 5.5", "6.4 Ω", "8 Ω"),
    ),
    "failed channel in use": Case(
        "channel-failed", "stop", "A1.1",
        changed(ONE, "A1", channels=amplifier("A1", "sub", failed=(1,)).channels), ONE,
        ("A1.1 has failed", "C1"),
    ),
    "failed half of a bridge": Case(
        "channel-failed", "stop", "A1.1",
        changed(ONE, "A1", mode="bridged", channels=amplifier("A1", "sub", "", failed=(2,)).channels),
        changed(ONE, "A1", mode="bridged"),
        ("A1.1 has failed", "C1"),
    ),
    "channel with no feed": Case(
        "channel-without-feed", "warn", "A1.1",
        changed(ONE, "A1", channels=amplifier("A1", "", "sub").channels), ONE,
        ("A1.1", "C1", "no feed"),
    ),
    "second half of a bridge wired": Case(
        "bridge-second-wired", "stop", "A1.2",
        changed(SOUND, "A1", mode="bridged"), SOUND,
        ("A1.2 is wired", "bridge A1.1"),
    ),
    "parallel pair of two feeds": Case(
        "pair-feeds-differ", "warn", "A2.2",
        changed(SOUND, "A2", mode="parallel"), SOUND,
        ("high", "parallel", "mid"),
    ),
    "bridged pair whose feed is on the second": Case(
        "pair-feeds-differ", "warn", "A1.2",
        changed(ONE, "A1", mode="bridged", channels=amplifier("A1", "", "sub").channels),
        changed(ONE, "A1", mode="bridged"),
        ("sub", "bridged", "nothing"),
    ),
    "mid fed from too low": Case(
        "band-too-low", "stop", "TOP1.mid", patched("sub", "high"), SOUND, ("32 Hz", "80 Hz"),
    ),
    "horn fed from too low": Case(
        "band-too-low", "stop", "TOP1.horn", patched("mid", "mid"), SOUND, ("90 Hz", "1 kHz"),
    ),
    "woofer fed from too low": Case(
        "band-too-low", "warn", "SUB1.upper", band("sub", "20 Hz", "90 Hz"), band("sub", "28 Hz", "90 Hz"),
        ("20 Hz", "28 Hz"),
    ),
    "capacitor too small": Case(
        "capacitor-in-band", "warn", "TOP1.horn", fitted("4.7 uF"), fitted("16.6 uF"),
        ("4.7 µF", "2120 Hz", "1.2 kHz"),  # 1/(2π·4.7 µF·16 Ω)
    ),
    "horn fed with bass only": Case(
        "band-misses-section", "warn", "TOP1.horn", patched("mid", "sub"), SOUND, ("32 Hz to 90 Hz", "1 kHz and up"),
    ),
    "mid fed with treble only": Case(
        "band-misses-section", "warn", "TOP1.mid", band("mid", "2.5 kHz", "18 kHz"), SOUND,
        ("2.5 kHz to 18 kHz", "80 Hz to 2.5 kHz"),
    ),
    "terminals at full power": Case(
        # 93.81 V / 8.1676 Ω; driven hard √0.3333 of it lasts: 6.63 A.
        "current-over-rating", "warn", "A1.1", changed(ONE, "duo", max_current=AMPS_10), ONE,
        ("11.5 A", "10 A", "terminals of A1"),
    ),
    "terminals driven hard": Case(
        "current-over-rating", "stop", "A1.1", changed(ONE, "duo", max_current=AMPS_6), ONE,
        ("11.5 A", "6.5 A", "6.63 A"),
    ),
    "cable at full power": Case(
        "current-over-rating", "warn", "L1",
        changed(ONE, "4x2.5", max_current=AMPS_10),
        changed(changed(ONE, "4x2.5", max_current=AMPS_10), "L1", cores_per_pole=2),
        ("11.5 A", "10 A", "4x2.5"),
    ),
    "connector driven hard": Case(
        "current-over-rating", "stop", "L1",
        changed(ONE, "four", max_current=AMPS_6), ONE,
        ("11.5 A", "6.5 A", "6.63 A", "four connector"),
    ),
    "connector that an rms limiter holds within its rating": Case(
        # 93.81 V / 8.1676 Ω; 50 V / 8.1676 Ω = 6.12 A.
        "current-over-rating", "note", "L1",
        limited(changed(ONE, "four", max_current=AMPS_6), rms="50 V"), limited(ONE, rms="50 V"),
        ("11.5 A", "6.5 A", "four connector", "the rms limiter of sub, 50 V, holds it at 6.12 A"),
    ),
    "connector that an rms limiter does not hold": Case(
        # 54 V / 8.1676 Ω = 6.61 A, under the 6.63 A that last driven hard without it.
        "current-over-rating", "stop", "L1",
        limited(changed(ONE, "four", max_current=AMPS_6), rms="54 V"), limited(ONE, rms="54 V"),
        ("11.5 A", "6.5 A", "6.61 A", "four connector"),
    ),
    "connector with a peak limiter only": Case(
        "current-over-rating", "stop", "L1",
        limited(changed(ONE, "four", max_current=AMPS_6), peak="50 V"), limited(ONE, peak="50 V"),
        ("11.5 A", "6.5 A", "6.63 A", "four connector"),
    ),
    "near connector of another kind": Case(
        "current-over-rating", "warn", "L1",
        changed(changed(ONE, "S1", connector="eight"), "eight", max_current=AMPS_10), changed(ONE, "S1", connector="eight"),
        ("11.5 A", "10 A", "eight connector"),
    ),
    "cable that takes too much": Case(
        # 60 m are 0.9656 Ω: 20 log10(8.9656/8) = 0.990 dB.
        "cable-loss", "warn", "C1.cone", metres("60 m"), metres("20 m"), ("0.99 dB", "0.5 dB"),
    ),
    "cable loss accepted": Case(
        "cable-loss", "warn", "C1.cone",
        metres("60 m"), replace(metres("60 m"), targets=Targets(cable_loss=Level.parse("1 dB"))),
        ("0.99 dB", "0.5 dB"),
    ),
    "damping under the target": Case(
        # 8 Ω / (0.9656 + 0.02) Ω.
        "damping-low", "warn", "C1.cone", metres("60 m"), metres("20 m"), ("8.12", "20", "0.986 Ω"),
    ),
    "damping accepted": Case(
        "damping-low", "warn", "C1.cone", metres("60 m"), replace(metres("60 m"), targets=Targets(damping_factor=8)),
        ("8.12", "20"),
    ),
    "woofers in a chain": Case(
        # Nodal by hand: 0.1676 Ω to 8 Ω and, 0.0878 Ω on, 8 Ω: 0.9451 of the EMF at C2, 17.2; on 0.2474 Ω of its own,
        # beside 0.1676 Ω to C1, 0.9653 of it, 27.8. 85.59 V at 4.189 Ω against 85.26 V at 4.104 Ω: 0.15 dB.
        "lows-chained", "note", "A1.1", CHAIN, changed(CHAIN, "L2", source="S1"),
        ("C1 and C2", "C2.cone", "17.2", "27.8", "0.15"),
    ),
    "short of power": Case(
        # 300 W·(8/8.1676)² of 800 W.
        "short-of-power", "warn", "C1.cone",
        changed(ONE, "duo", ratings=ratings(("8 ohm", "300 W"))), changed(ONE, "duo", ratings=ratings(("8 ohm", "600 W"))),
        ("288 W", "800 W", "−4.44 dB"),
    ),
    "ample power and no limiter": Case(
        # 1055 W of 400 W.
        "over-power-without-limiter", "warn", "C1.cone",
        power("400 W"), limited(power("400 W"), rms="56 V"),
        ("1060 W", "400 W", "+4.21 dB"),
    ),
    "rms limiter above what is safe for the section": Case(
        # √(800 W·8 Ω) = 80 V.
        "limiter-too-high", "warn", "A1.1", limited(ONE, rms="85 V"), limited(ONE, rms="80 V"), ("rms", "85 V", "80 V"),
    ),
    "rms limiter that the amplifier never reaches": Case(
        # √(2300 W·8 Ω) = 135.6 V, and the amplifier stops at 93.8 V, as a square wave at √2 times as much.
        "limiter-too-high", "note", "A1.1",
        limited(power("2300 W"), rms="140 V"), limited(power("2300 W"), rms="135 V"),
        ("140 V", "135 V", "133 V"),
    ),
    "rms limiter that the amplifier reaches as a square wave only": Case(
        # √(1200 W·8 Ω) = 98.0 V, between 93.8 V and √2 times as much.
        "limiter-too-high", "warn", "A1.1",
        limited(power("1200 W"), rms="100 V"), limited(power("1200 W"), rms="97.9 V"),
        ("100 V", "97.9 V"),
    ),
    "peak limiter above what is safe for the section": Case(
        # √(4·600 W·8 Ω) = 138.6 V peak.
        "limiter-too-high", "warn", "A1.1",
        limited(power("600 W"), peak="150 V"), limited(power("600 W"), peak="138 V"),
        ("peak", "150 V", "138 V peak"),
    ),
    "peak limiter that the amplifier never reaches": Case(
        # √(4·800 W·8 Ω) = 160 V peak; open, the amplifier gives 104.88 V·√2 = 148 V peak.
        "limiter-too-high", "note", "A1.1",
        limited(ONE, peak="170 V"), limited(ONE, peak="160 V"),
        ("peak", "170 V", "160 V peak", "148 V peak"),
    ),
    "limiter in dBu above what is safe behind the amplifier's gain": Case(
        # √(800 W·8 Ω) = 80 V are 40.28 dBu, 8.28 dBu before 32 dB of gain; 9 dBu come to 86.9 V there.
        "limiter-too-high", "warn", "A1.1", limited(ONE, rms="9 dBu"), limited(ONE, rms="8.2 dBu"), ("9 dBu", "86.9 V", "80 V"),
    ),
    "peak limiter in dBu on the scale of a sine": Case(
        # √(4·600 W·8 Ω) = 138.6 V peak are 13.05 dBu before 32 dB, 10.04 dBu where a sine's rms is shown.
        "limiter-too-high", "warn", "A1.1",
        limited(power("600 W"), peak="10.2 dBu"), limited(power("600 W"), peak="10 dBu"),
        ("10.2 dBu", "138 V peak"),
    ),
    "limiter in dBu that a bridged pair on the feed is over": Case(
        # 8 dBu are 77.5 V behind 32 dB, and 155 V behind the 38 dB of the bridge.
        "limiter-too-high", "warn", "A2.1",
        limited(bridged("bridged"), rms="8 dBu"), limited(bridged("bridged"), rms="2.2 dBu"),
        ("8 dBu", "155 V"),
    ),
    "limiter in volts that hold at the channel of lower gain": Case(
        "limiter-too-high", "warn", "A2.1",
        changed(limited(bridged("bridged"), rms="70 V"), "sub", limiter_at="A1.1"),
        changed(limited(bridged("bridged"), rms="70 V"), "sub", limiter_at="A2.1"),
        ("70 V", "140 V"),
    ),
    "limiter in volts on channels of two gains": Case(
        "limiter-for-one-gain", "warn", "sub", limited(bridged("bridged"), rms="70 V"), limited(bridged("dual"), rms="70 V"),
        ("70 V", "140 V", "32 dB", "38 dB", "A2.1"),
    ),
    "amplifier that clips before its limiter": Case(
        # 93.81 V·√2.
        "clips-before-limiter", "note", "A1.1", limited(ONE, peak="140 V"), limited(ONE, peak="130 V"),
        ("133 V peak", "140 V"),
    ),
    "amplifier whose sine clips before its rms limiter": Case(
        # 93.81 V, the rated output of a sine (IEC 60268-3, from memory), under √(1200 W·8 Ω) = 98.0 V.
        "clips-before-limiter", "note", "A1.1",
        limited(power("1200 W"), rms="97 V"), limited(power("1200 W"), rms="93.8 V"),
        ("93.8 V into its load", "rms limiter of sub acts at 97 V."),
    ),
    "amplifier whose sine clips before its rms limiter in dBu": Case(
        # 9.7 dBu are 0.7746 V·10^(41.7/20) = 94.2 V behind 32 dB; 9.6 dBu are 93.1 V.
        "clips-before-limiter", "note", "A1.1",
        limited(power("1200 W"), rms="9.7 dBu"), limited(power("1200 W"), rms="9.6 dBu"),
        ("93.8 V", "9.7 dBu, 94.2 V at A1.1"),
    ),
    "a bridged pair on the feed of a channel": Case(
        # Bridging adds 6.02 dB; the cables are alike.
        "gain-differs", "warn", "A2.1", bridged("bridged"), bridged("dual"),
        ("6.0", "A1.1", "sub"),
    ),
    "amplifiers of two gains with unlike loads": Case(
        # 6 dB, and behind 0.1676 Ω the 4 Ω lose 20 log10(4.1676/4) − 20 log10(8.1676/8) = 0.18 dB more.
        "gain-differs", "warn", "A2.1", two_gains("38 dB"), trimmed_by(two_gains("38 dB"), "A2", "-6 dB"), ("5.82 dB more level", "A1.1", "sub"),
    ),
    "a sensitivity that adds to the gain before it": Case(
        # 5.82 dB and 3 dB; where it is the other way round the gain makes up for it, within 1 dB of 5.82 − 6.
        "gain-differs", "warn", "A2.1", two_gains("38 dB", "95 dB", "98 dB"), two_gains("38 dB", "98 dB", "92 dB"),
        ("8.82 dB", "A1.1"),
    ),
    "trims that differ": Case(
        "gain-differs", "note", "A2.1", bridged("dual", trim="-3 dB"), bridged("dual", trim="-1 dB"),
        ("3 dB", "A1.1"),
    ),
    "two outputs joined": Case(
        "outputs-joined", "stop", "SUB1",
        changed(SOUND, "SUB1", wiring="strapped"), SOUND,
        ("A1.1 and A1.2", "SUB1", "upper"),
    ),
    "cabinet with no line": Case(
        "section-silent", "warn", "SUB1", without(SOUND, "L1"), SOUND, ("SUB1", "no line leads to it"),
    ),
    "section left out by the wiring": Case(
        "section-silent", "warn", "SUB1.lower", changed(SOUND, "SUB1", wiring="strapped"), SOUND, ("strapped doesn't use it",),
    ),
    "cable of too few cores": Case(
        "section-silent", "warn", "SUB1.lower", changed(SOUND, "L1", cable="2x2.5"), SOUND, ("L1 carries 1 pole pair", "pair 2"),
    ),
    "line that leaves a pole pair out": Case(
        "section-silent", "warn", "SUB1.lower", changed(SOUND, "L1", poles=(1,)), SOUND, ("L1 carries 1 pole pair", "pair 2"),
    ),
    "pole pair not wired": Case(
        "section-silent", "warn", "SUB1.lower", changed(SOUND, "S1", poles=("A1.1", "")), SOUND, ("pole pair 2 of S1",),
    ),
    "pole pair not listed": Case(
        "section-silent", "warn", "SUB1.lower", changed(SOUND, "S1", poles=("A1.1",)), SOUND, ("pole pair 2 of S1",),
    ),
    "link from a cabinet that is not fed": Case(
        "section-silent", "warn", "C2.cone", without(CHAIN, "L1"), CHAIN, ("no line leads to C1",),
    ),
    "pole pairs crossed in the line": Case(
        "poles-crossed", "stop", "TOP1", changed(SOUND, "L2", poles=(2, 1)), SOUND,
        ("1 and 2 of TOP1", "mid gets high", "horn gets mid"),
    ),
    "pole pairs crossed at the socket": Case(
        "poles-crossed", "stop", "TOP1", changed(SOUND, "S2", poles=("A2.2", "A2.1")), SOUND,
        ("1 and 2 of TOP1", "mid gets high", "horn gets mid"),
    ),
    "one woofer of three turned": Case(
        "polarity-mixed", "warn", "sub",
        changed(THREE, "S1", poles=("A1.1", "-A1.2")), THREE,
        ("C2.cone has the opposite polarity", "low", "sub"),
    ),
    "amplifier that sticks out of the rack": Case(
        "rack-overfull", "warn", "A1", changed(ONE, "A1", unit=12), changed(ONE, "A1", unit=11), ("unit 13", "12 of R1"),
    ),
    "amplifiers in one place": Case(
        "units-overlap", "warn", "A2", changed(SOUND, "A2", unit=2), SOUND, ("A2 and A1", "R1"),
    ),
    "spare channel": Case(
        "channel-unused", "note", "A1.2",
        changed(SOUND, "S1", poles=("A1.1",)), SOUND,
        ("A1.2", "spare"),
    ),
    "failed channel that drives nothing": Case(
        "channel-unused", "note", "A1.2",
        changed(changed(SOUND, "S1", poles=("A1.1",)), "A1", channels=amplifier("A1", "sub", "sub", failed=(2,)).channels), SOUND,
        ("A1.2 has failed",),
    ),
    "gain that is assumed before loudspeakers": Case(
        "gain-assumed", "warn", "A1",
        changed(ONE, "duo", assumed=("gain",)), ONE,
        ("duo", "32 dB", "dBu", "sub"),
    ),
    "gain that is assumed and drives nothing": Case(
        "figures-assumed", "note", "A1",
        without(changed(ONE, "duo", assumed=("gain",)), "L1", "C1"), without(ONE, "L1", "C1"),
        ("duo", "gain 32 dB"),
    ),
    "other figures that are assumed": Case(
        "figures-assumed", "note", "A1",
        changed(ONE, "duo", assumed=("idle_power", "weight")), changed(ONE, "duo", assumed=("gain",)),
        ("duo", "idle power 60 W and weight 14 kg"),
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_is_raised_with_figure_and_limit_and_gone_when_mended(name):
    case = CASES[name]
    assert not check(case.broken)
    assert not check(case.mended)
    (finding,) = [f for f in assess(case.broken).findings if (f.code, f.at) == (case.code, case.at)]
    assert finding.severity == case.severity
    for words in case.says:
        assert words in finding.message
    assert finding.advice
    assert not [f for f in assess(case.mended).findings if (f.code, f.at) == (case.code, case.at)]


@pytest.mark.parametrize("name", CASES)
def test_message_is_a_sentence_for_the_crew(name):
    for finding in assess(CASES[name].broken).findings:
        for text in (finding.message, finding.advice):
            assert text.endswith(".")
            assert "!" not in text
            assert "None" not in text
            assert "nan" not in text
            for aside in re.findall(r"\(.*?\)", text):
                assert text.count(aside) == 1, "a source is given once"


def test_nothing_is_found_where_all_is_well():
    assert assess(SOUND).findings == ()


@pytest.mark.parametrize(
    "well",
    [
        # Both the feed and the patch turned: alike again.
        changed(changed(THREE, "S1", poles=("-A1.1", "-A1.2")), "S2", poles=("-A1.1",)),
        # One woofer turned on a feed that is turned: alike.
        replace(
            changed(
                changed(THREE, "S1", poles=("A1.1", "-A1.2")),
                "A1",
                channels=amplifier("A1", "sub", "turned").channels,
            ),
            feeds=(*FEEDS, feed("turned", "32 Hz", "90 Hz", polarity="inverted")),
        ),
    ],
)
def test_polarity_turned_twice_is_not_mixed(well):
    assert "polarity-mixed" not in _codes(well)


def test_damping_is_asked_of_low_sections_only():
    wedge = changed(
        metres("60 m", changed(ONE, "C1", model="wedge")), "A1", channels=amplifier("A1", "full").channels
    )
    assert "damping-low" not in _codes(wedge)
    assert "cable-loss" in _codes(wedge)


def test_a_chain_of_one_woofer_and_a_top_is_no_chain_of_woofers():
    linked = changed(CHAIN, "C2", model="top")
    assert "lows-chained" not in _codes(linked)


def test_a_pair_that_plays_one_feed_may_be_parallel():
    assert assess(changed(SOUND, "A1", mode="parallel")).findings == ()


def test_beside_doubled_cores_a_pair_that_is_patched_stays_apart_in_the_plug():
    for cores, told in ((1, False), (2, True)):
        rig = changed(ONE, "L1", cores_per_pole=cores)
        advice = " ".join(f.advice for f in assess(rig).findings if f.code == "channel-unused")
        assert ("joins two outputs" in advice) is told


def test_the_second_half_of_a_bridge_is_no_spare():
    bridged = changed(changed(ONE, "A1", mode="bridged"), "S1", poles=("A1.1",))
    assert "channel-unused" not in _codes(bridged)


def test_the_second_half_of_a_failed_bridge_is_not_told_twice():
    bridge = changed(SOUND, "A1", mode="bridged", channels=amplifier("A1", "sub", "", failed=(1,)).channels)
    assert [f.at for f in assess(bridge).findings if f.code == "channel-failed"] == ["A1.1"]


def test_a_top_whose_feeds_fit_neither_way_is_not_told_to_cross_them():
    assert "poles-crossed" not in _codes(patched("sub", "sub"))


def test_pole_pairs_that_could_be_exchanged_but_fit_are_not_told_as_crossed():
    """Two woofers beside a horn that is fed from too low: the fault is the horn's alone."""
    three_way = LoudspeakerModel(
        id="three-way",
        connector="eight",
        sections=(*WOOFER.sections, replace(WOOFER.sections[0], id="cone2"), TOP.sections[1]),
        wirings={"open": (("cone",), ("cone2",), ("horn",))},
    )
    before = rig(
        amplifier("A1", "sub", "sub", "mid", model="quad"),
        socket("S1", "A1.1", "A1.2", "A1.3", connector="eight"),
        line("L1", "S1", "C1", cable="8x4"),
        cabinet("C1", "three-way"),
    )
    equipment = replace(before.equipment, loudspeakers=(three_way,))
    assert _codes(replace(before, equipment=equipment)) >= {"band-too-low"}
    assert "poles-crossed" not in _codes(replace(before, equipment=equipment))


def test_a_pair_whose_second_channel_has_no_feed_does_not_differ():
    second_bare = amplifier("A1", "sub", "").channels
    for mode in ("parallel", "bridged"):
        assert "pair-feeds-differ" not in _codes(changed(ONE, "A1", mode=mode, channels=second_bare))


def test_the_gravest_come_first_and_keep_the_order_of_the_rig():
    doubles = rig(
        *(amplifier(f"A{i}", "sub", "", model="stout", unit=2 * i - 1) for i in (1, 2, 3)),
        *(socket(f"S{i}", f"A{i}.1") for i in (1, 2, 3)),
        *(line(f"L{i}", f"S{i}", f"C{i}", "60 m") for i in (1, 2, 3)),
        *(line(f"K{i}", f"C{i}", f"D{i}", "60 m") for i in (1, 2, 3)),
        *(cabinet(f"{row}{i}", "double", "joined") for i in (1, 2, 3) for row in "CD"),
    )
    found = assess(doubles).findings
    ranks = [SEVERITIES.index(finding.severity) for finding in found]
    assert set(ranks) == {0, 1, 2}
    assert ranks == sorted(ranks)
    for code in ("load-below-minimum", "lows-chained", "channel-unused"):
        places = [finding.at for finding in found if finding.code == code]
        assert len(places) == 3
        assert places == sorted(places)


def test_findings_of_a_place_are_those_under_it():
    told = assess(metres("60 m"))
    assert {f.at for f in told.at("C1")} == {"C1.cone"}
    assert told.at("C1.cone") == told.at("C1")
    assert told.at("C") == ()
    assert told.count("warn") == sum(f.severity == "warn" for f in told.findings) > 0
    assert told.worst() == "warn"
    assert assess(SOUND).worst() is None


def _codes(rig: Rig) -> set[str]:
    return {finding.code for finding in assess(rig).findings}


def test_two_plugs_for_one_socket_are_a_warning_and_a_link_is_none():
    fork = rig(
        amplifier("A1", "sub", "sub"),
        socket("S1", "A1.1", "A1.2"),
        line("L1", "S1", "C1"),
        line("L2", "S1", "C2"),
        cabinet("C1", "woofer"),
        cabinet("C2", "woofer"),
    )
    (found,) = [finding for finding in assess(fork).findings if finding.code == "socket-split"]
    assert (found.severity, found.at) == ("warn", "S1")
    assert "L1 and L2" in found.message
    assert "socket-split" not in {finding.code for finding in assess(CHAIN).findings}


def test_what_is_assumed_of_a_model_is_found_once_however_many_amplifiers_and_channels_play():
    found = assess(changed(SOUND, "duo", assumed=("gain", "weight"))).findings
    assert [(f.code, f.at) for f in found] == [("gain-assumed", "A1"), ("figures-assumed", "A1")]
    assert all(word in found[0].message for word in ("sub", "mid", "high"))


@pytest.mark.parametrize(
    ("setting", "at", "assumed", "severity"),
    [
        (
            "3.9 dBu",
            "",
            False,
            "note",
        ),  # behind 32 dB 48.3 V, 5.92 A of the 6.5 A; behind 33 dB it would be 6.64 A
        ("3.9 dBu", "", True, "stop"),
        ("50 V", "", True, "note"),  # as stated there, whatever the gain
        ("50 V", "A2.1", True, "stop"),  # where another model is, whose gain is known
    ],
)
def test_a_limiter_lowers_a_current_finding_only_by_gains_that_are_known(setting, at, assumed, severity):
    two = rig(
        amplifier("A1", "sub", "sub"),
        amplifier("A2", "sub", "sub", model="quad", unit=3),
        socket("S1", "A1.1", "A1.2"),
        line("L1", "S1", "C1"),
        cabinet("C1", "woofer"),
    )
    strained = changed(changed(two, "four", max_current=AMPS_6), "sub", limiter_at=at)
    told = assess(changed(limited(strained, rms=setting), "duo", assumed=("gain",) if assumed else ()))
    (found,) = [f for f in told.at("L1") if f.code == "current-over-rating"]
    assert found.severity == severity
    assert ("Enter the gain of duo" in found.advice) is (severity == "stop")


def test_a_terminal_s_limit_says_that_it_is_assumed():
    strained = changed(ONE, "duo", max_current=Current.parse("10 A"))
    (known,) = [f for f in assess(strained).findings if f.code == "current-over-rating"]
    (assumed,) = [
        f
        for f in assess(changed(strained, "duo", assumed=("max_current",))).findings
        if f.code == "current-over-rating"
    ]
    assert "assumed" not in known.message
    assert "terminals of A1, assumed" in assumed.message
    assert (assumed.figure, assumed.limit.value) == (known.figure, known.limit.value)


@pytest.mark.parametrize(
    ("assumed", "said"),
    [("efficiency", True), ("idle_power", True), ("power_factor", True), ("gain", False), ("inrush", False)],
)
def test_an_overloaded_circuit_says_which_amplifiers_figures_are_assumed(assumed, said):
    full = changed(SOUND, "P1", breaker=Current.parse("6 A"))
    assert any(f.code.startswith("circuit-") for f in assess(full).findings)
    for finding in assess(changed(full, "duo", assumed=(assumed,))).findings:
        if finding.code.startswith("circuit-"):
            assert ("of duo, which is assumed, from its data sheet." in finding.advice) is said


def test_switching_on_by_an_assumed_inrush_says_so():
    full = changed(SOUND, "P1", breaker=Current.parse("6 A"), curve="B")
    for names, said in ((("inrush",), True), (("efficiency",), False)):
        (found,) = [
            f for f in assess(changed(full, "duo", assumed=names)).findings if f.code == "inrush-over-band"
        ]
        assert ("Enter the inrush of duo, which is assumed" in found.advice) is said


def test_what_a_failed_channel_silences_is_told_by_section_where_the_cabinet_plays_on():
    def told(rig: Rig) -> list[str]:
        return [f.message for f in assess(rig).findings if f.code.endswith("-failed")]

    part = changed(SOUND, "A2", channels=amplifier("A2", "mid", "high", failed=(1,)).channels)
    assert told(part) == ["A2.1 has failed and TOP1.mid is silent on it."]
    assert told(changed(SOUND, "A2", state="failed")) == ["A2 has failed and TOP1 is silent on it."]
    assert told(changed(SOUND, "TOP1", faults={"mid": "open"})) == ["TOP1.mid is open and silent."]
