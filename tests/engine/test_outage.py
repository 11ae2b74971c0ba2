"""What each kind of failure silences, and what is said of it: followed along the wiring by hand."""

from pathlib import Path

import pytest

from rackwright.engine.assess import assess
from rackwright.engine.recovery import fail, failed, repaired
from rackwright.model import edits
from rackwright.model.edits import EditError
from rackwright.store.rig_file import load


@pytest.fixture(scope="module")
def hall():
    return load(Path(__file__).parents[2] / "presets" / "hall.toml")


def silent(rig):
    assessment = assess(rig)
    return {name: assessment.silence(name) for name, s in assessment.sections.items() if s.channel is None}


def on(rig, **wanted):
    """The sections whose results have those fields."""
    found = assess(rig).sections.items()
    return {name for name, s in found if all(getattr(s, key) == value for key, value in wanted.items())}


def test_a_dead_thing_silences_what_hangs_on_it_and_is_named(hall):
    index = assess(hall).index
    before = assess(hall)
    line = index.lines["C1"]
    cases = {
        "A1.1": on(hall, channel="A1.1"),
        "A1.1=input": on(hall, channel="A1.1"),
        "A1": {
            n
            for n, s in before.sections.items()
            if s.channel and before.channels[s.channel].amplifier == "A1"
        },
        "C1": on(hall, cabinet=line.to),
        line.source: on(hall, cabinet=line.to),
        line.to: on(hall, cabinet=line.to),
        "L1": {
            n
            for n, s in before.sections.items()
            if s.channel
            and index.circuits[index.amplifiers[before.channels[s.channel].amplifier].circuit].phase == "L1"
        },
    }
    for name, expected in cases.items():
        broken = fail(hall, [name])
        assert failed(broken) == (name,)
        told = silent(broken)
        assert set(told) == expected, name
        assert expected
        place = name.partition("=")[0]
        assert all(place in words for words in told.values()) or name == "L1"
        assert any(f.severity == "stop" for f in assess(broken).findings)
        assert repaired(broken) == hall, "a repair leaves nothing behind"
        anew, fresh = assess(broken, before), assess(broken)
        assert (anew.sections, anew.findings, anew.circuits) == (
            fresh.sections,
            fresh.findings,
            fresh.circuits,
        )


def test_one_pole_pair_silences_its_sections_only(hall):
    whole = silent(fail(hall, ["C1"]))
    first, second = (silent(fail(hall, [f"C1/{pair}"])) for pair in (1, 2))
    assert first
    assert second
    assert {*first, *second} == {*whole}
    assert not {*first} & {*second}


def test_an_open_driver_leaves_the_load_a_shorted_one_takes_the_channel_along(hall):
    """Two equal drivers in parallel: without one the load doubles."""
    before = assess(hall)
    channel = next(c for c in before.channels.values() if c.sections == 2 and c.load_nominal)
    one, other = (s.id for s in before.branches[channel.id].sections)
    opened = assess(fail(hall, [one]))
    assert opened.channels[channel.id].load_nominal == pytest.approx(2 * channel.load_nominal)
    assert opened.sections[other].channel == channel.id
    assert opened.silence(one) == f"{one} open"
    shorted = silent(fail(hall, [f"{one}=shorted"]))
    assert shorted == {one: f"{one} shorted", other: f"{one} shorted"}
    distorted = assess(fail(hall, [f"{one}=distorted"]))
    assert distorted.sections[one].channel == channel.id
    assert [f.at for f in distorted.findings if f.code == "section-distorted"] == [one]


def test_what_can_t_fail_so_is_refused(hall):
    for name, told in {
        "A1.1=open": "A1.1=input",
        "C1=open": "Write C1 alone",
        "X9": 'Nothing called "X9"',
    }.items():
        with pytest.raises(EditError, match=told):
            fail(hall, [name])


def test_an_id_may_hold_the_sign_before_the_way_of_failing(hall):
    rig = edits.change(edits.change(hall, "A1", id="A=1"), "TOP-L1", id="TOP=L")
    for name in ("A=1", "A=1.1", "A=1.1=input", "TOP=L.high", "TOP=L.high=shorted"):
        broken = fail(rig, [name])
        assert failed(broken) == (name,)
        assert repaired(broken) == rig
