"""Advice on limiters: typed back as a person reads it, on whichever screen or paper, it draws no finding."""

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from rackwright.cli.check import check_page
from rackwright.cli.why import figures_page, working_page
from rackwright.console.rows import results
from rackwright.console.terminal.glyphs import ASCII
from rackwright.engine import figures
from rackwright.engine.assess import Assessed, assess
from rackwright.engine.limiters import advised_limiters
from rackwright.engine.workings import explain, places
from rackwright.model.racks import Mode, PeakScale
from rackwright.model.rig import Rig
from rackwright.papers.processor import processor_sheet
from rackwright.units import LimiterSetting, Power, figure, floored
from rigs import changed
from shipped import preset

from . import drawn
from .test_findings import ONE, bridged

HARM = {"limiter-too-high", "over-power-without-limiter"}
LIMITERS = HARM | {"clips-before-limiter"}
WIRED = drawn.wired(strapped=False)
WATTS = st.lists(st.integers(20, 3000), min_size=3, max_size=3)


def rated(rig: Rig, watts: list[int]) -> Rig:
    """`rig` with other continuous ratings for its loudspeakers, in turn."""
    models = tuple(
        replace(
            model,
            sections=tuple(
                replace(section, continuous=Power.parse(f"{watts[(i + j) % len(watts)]} W"), peak=None)
                for j, section in enumerate(model.sections)
            ),
        )
        for i, model in enumerate(rig.equipment.loudspeakers)
    )
    return replace(rig, equipment=replace(rig.equipment, loudspeakers=models))


def with_limiter(rig: Rig, feed: str, kind: str, volts: str) -> Assessed:
    typed = LimiterSetting.parse(volts)
    return assess(
        replace(
            rig,
            feeds=tuple(replace(f, **{f"limiter_{kind}": typed}) if f.id == feed else f for f in rig.feeds),
        )
    )


def found(assessed: Assessed, feed: str, codes: set[str]) -> list[str]:
    """The findings of these codes at channels and sections on a feed."""
    return [
        f"{finding}"
        for finding in assessed.findings
        if finding.code in codes and feed_at(assessed, finding.at) == feed
    ]


def feed_at(assessed: Assessed, place: str) -> str:
    section = assessed.sections.get(place)
    return assessed.branches[section.channel if section else place].result.feed


@given(WIRED, WATTS, st.sampled_from(["", "20 dBu"]), st.sampled_from(["sine", "peak"]))
def test_what_a_finding_advises_draws_none(
    drawn_rig: Rig, watts: list[int], level: str, scale: PeakScale
) -> None:
    rig = rated(drawn_rig, watts)
    if level:
        high = LimiterSetting.parse(level)
        feeds = [replace(f, limiter_rms=high, limiter_peak=high, limiter_peak_scale=scale) for f in rig.feeds]
        rig = replace(rig, feeds=tuple(feeds))
    before = assess(rig)
    for finding in before.findings:
        if finding.code not in LIMITERS:
            continue
        feed = feed_at(before, finding.at)
        kind = "peak" if "peak limiter" in finding.message else "rms"
        advised = re.search(r" to (.+) or less", finding.advice)
        assert advised, finding
        after = with_limiter(rig, feed, kind, advised[1])
        assert not [text for text in found(after, feed, LIMITERS) if kind in text], finding


@given(WIRED, WATTS)
def test_what_a_feed_s_figures_say_draws_none(drawn_rig: Rig, watts: list[int]) -> None:
    rig = rated(drawn_rig, watts)
    before = assess(rig)
    for feed in rig.feeds:
        for shown in figures.of_feed(before, feed.id):
            kind = shown.figure.name.removeprefix("limiter_")
            after = with_limiter(rig, feed.id, kind, shown.figure.text(shown.value).removesuffix(" peak"))
            assert not [text for text in found(after, feed.id, HARM) if kind in text]


@given(st.floats(-1e4, 1e4).filter(lambda value: abs(value) > 1e-3))
def test_a_figure_that_is_floored_is_the_next_of_three_digits(value: float) -> None:
    low = floored(value)
    assert figure(low) == figure(float(f"{low:.3g}"))
    assert low <= value + 1e-11 * abs(value)
    assert value - low <= 10 ** (math.floor(math.log10(abs(value))) - 2) * 1.0001


SCREENS = {
    "check": lambda of: check_page(of.index.rig, of).lines,
    "results": lambda of: results.rows(of, "A1.1", 60, ASCII),
    "figures": lambda of: figures_page(places(of, "A1.1")).lines,
    "rms working": lambda of: working_page(explain(of, "A1.1", "limiter_rms"), False).lines,
    "peak working": lambda of: working_page(explain(of, "A1.1", "limiter_peak"), False).lines,
    "processor": lambda of: processor_sheet(of).blocks,
}


@pytest.mark.parametrize("screen", SCREENS)
def test_no_screen_or_paper_rounds_up(screen: str) -> None:
    """√(300 W·8 Ω) = 48.99 V and √(1200 W·8 Ω) = 97.98 V peak: neither 49 nor 98 may be set."""
    told = f"{SCREENS[screen](assess(rated(ONE, [300])))}"
    assert "48.9" in told or "97.9" in told
    assert not re.search(r"\b(49|49\.0|98|98\.0)\b(?! Hz)", told)


def test_volts_that_hold_at_a_channel_follow_its_gain_over_an_edit() -> None:
    """A bridge has 6.02 dB more gain: what was 70 V at it is 35 V at the other amplifier on the feed."""
    held = changed(bridged("dual"), "sub", limiter_rms=LimiterSetting.parse("70 V"), limiter_at="A2.1")
    before = assess(held)
    assert before.branches["A1.1"].set_rms == 70
    after = assess(changed(held, "A2", mode="bridged"), before)
    assert after.branches["A1.1"].set_rms == pytest.approx(35)


@given(WIRED, WATTS, st.sampled_from(["", "20 dBu"]), st.sampled_from(["sine", "peak"]))
def test_limiters_set_as_advised_draw_no_finding(
    drawn_rig: Rig, watts: list[int], level: str, scale: PeakScale
) -> None:
    high = LimiterSetting.parse(level) if level else None
    feeds = tuple(
        replace(feed, limiter_rms=high, limiter_peak=None, limiter_peak_scale=scale)
        for feed in drawn_rig.feeds
    )
    before = assess(replace(rated(drawn_rig, watts), feeds=feeds))
    advised = advised_limiters(before, [feed.id for feed in feeds])
    played = {b.feed.id for b in before.branches.values() if b.feed is not None and b.sections}
    assert set(advised) == played
    rig = before.index.rig
    for name, (rms, peak) in advised.items():
        typed = {"limiter_rms": LimiterSetting.parse(rms), "limiter_peak": LimiterSetting.parse(peak)}
        rig = changed(rig, name, **typed)
    after = {finding.code for finding in assess(rig).findings}
    assert not after & (LIMITERS | {"limiter-for-one-gain"})


def test_what_is_advised_protects_and_acts_before_the_amplifier_clips() -> None:
    """The lower of √(P·Z), as IEC 60268-5 rates power, and the rated sine of the amplifier, 93.81 V (IEC 60268-3): from memory."""
    told = {watts: advised_limiters(assess(rated(ONE, [watts])), ["sub"])["sub"] for watts in (300, 1200)}
    assert told == {300: ("48.9 V", "97.9 V"), 1200: ("93.8 V", "132 V")}


@pytest.mark.parametrize("modes", [("bridged", "dual"), ("dual", "bridged")])
def test_a_bridged_pair_warns_although_a_limiter_is_stated(modes: tuple[Mode, Mode]) -> None:
    """The limiters of small-room in volts, set for channels of 32 dB, let twice the voltage through at a bridge's 38 dB."""
    room = assess(changed(preset("small-room"), "A1", mode=modes))
    (bridge,) = [b for b in room.branches.values() if b.mode == "bridged" and not b.second_of_bridge]
    (section,) = [result for result in bridge.sections if result.power]
    assert section.power is not None
    assert section.power > 3 * bridge.models[0].continuous.value
    told = [f for f in room.findings if f.code == "limiter-for-one-gain" and bridge.id in f.message]
    assert [finding.severity for finding in told] == ["warn", "warn"]


def test_the_scale_of_a_peak_in_dbu_is_said_wherever_the_figure_is() -> None:
    """Its two scales are 3.01 dB apart (the rms of a sine is its peak over √2): a bare dBu says neither."""
    units = {each.name: each.unit for each in figures.CHANNEL_FIGURES}
    for name, unit in (("limiter_peak_dbu", "dBu peak"), ("limiter_peak_sine_dbu", "dBu sine")):
        assert units[name] == unit
        assert explain(assess(ONE), "A1.1", name)[-1].steps[-1].result.endswith(unit)
