"""Voltages that can be touched: classes, worst cases, and what is told of exposed posts and open connectors."""

import pytest
from msgspec.structs import replace

from rackwright.engine import touch
from rackwright.engine.assess import Assessed, assess
from rackwright.engine.cautions import PLANNING
from rackwright.model import edits
from rackwright.model.equipment import AmplifierModel, Equipment
from rackwright.model.racks import Channel
from rackwright.model.rig import Rig
from rackwright.units import Voltage
from rigs import ratings

from .rigs import BOX, CABLE, KILO, PLUG, amplifier, rig

DUO = replace(
    KILO,
    ratings=ratings(("8 ohm", "1100 W"), ("4 ohm", "1800 W"), ("2 ohm", "2600 W")),
    terminals="exposed",
)
"""Worked out in the description of the physics: 104.88 V with nothing connected."""


def with_model(model: AmplifierModel, shrouded: bool = True, **more: object) -> Rig:
    plug = replace(PLUG, shrouded=shrouded)
    equipment = Equipment(amplifiers=(model,), loudspeakers=(BOX,), cables=(CABLE,), connectors=(plug,))
    return rig((), amplifier("A1", **more), equipment=equipment)


def told(assessed: Assessed) -> list[tuple[str, str]]:
    return [(f.at, f.severity) for f in assessed.findings if f.code == "touch-voltage"]


@pytest.mark.parametrize(
    ("voltage", "expected"),
    [(0, "ES1"), (71, "ES1"), (71.1, "ES2"), (120, "ES2"), (120.1, "ES3"), (400, "ES3")],
)
def test_classes_of_audio_signals(voltage, expected):
    """IEC 62368-1 Annex E, Table E.1: ES1 to 71 V rms, ES2 to 120 V, ES3 above; from memory."""
    assert touch.touch_class(voltage) == expected


def test_bare_posts_of_a_large_amplifier_are_told_with_the_whole_advice():
    assessed = assess(with_model(DUO))
    assert told(assessed) == [("A1.1", "warn"), ("A1.2", "warn")]
    result = assessed.touch["A1.1"]
    assert result.voltage == pytest.approx(104.88, abs=0.01)
    assert (result.touch_class, result.exposed) == ("ES2", True)
    finding = next(f for f in assessed.findings if f.code == "touch-voltage")
    assert "105 V" in finding.message
    for advice in ("Cover", "shrouded connector", "power the amplifier down before plugging"):
        assert advice in finding.advice


def test_a_bridged_pair_counts_with_the_voltage_of_the_bridge():
    """Twice 104.88 V."""
    assessed = assess(with_model(DUO, mode="bridged"))
    assert told(assessed) == [("A1.1", "stop")]
    assert assessed.touch["A1.1"].voltage == pytest.approx(209.76, abs=0.02)
    assert assessed.touch["A1.1"].touch_class == "ES3"


@pytest.mark.parametrize(("stated", "expected"), [("80 V", 93.81), ("110 V", 110)])
def test_the_larger_of_open_and_rated_voltage_counts(stated, expected):
    """√(1100 W · 8 Ω) = 93.81 V is rated."""
    assessed = assess(with_model(replace(DUO, open_voltage=Voltage.parse(stated))))
    assert assessed.touch["A1.1"].voltage == pytest.approx(expected, abs=0.01)


def test_shrouded_terminals_show_their_class_and_no_finding():
    assessed = assess(with_model(replace(DUO, terminals="shrouded")))
    assert told(assessed) == []
    assert (assessed.touch["A1.1"].touch_class, assessed.touch["A1.1"].exposed) == ("ES2", False)


def test_a_small_amplifier_is_of_the_lowest_class():
    """√(200 W · 8 Ω) = 40 V."""
    assessed = assess(with_model(replace(DUO, ratings=ratings(("8 ohm", "200 W")))))
    assert told(assessed) == []
    assert assessed.touch["A1.1"].touch_class == "ES1"


def test_open_connectors_are_told_at_socket_and_cabinet():
    assessed = assess(with_model(replace(DUO, terminals="shrouded"), shrouded=False))
    assert sorted(told(assessed)) == [(place, "warn") for place in ("BA1-1", "BA1-2", "SA1-1", "SA1-2")]


def test_a_socket_with_nothing_plugged_in_is_live_too():
    bare = replace(with_model(replace(DUO, terminals="shrouded"), shrouded=False), lines=(), cabinets=())
    assert sorted(told(assess(bare))) == [("SA1-1", "warn"), ("SA1-2", "warn")]


def test_a_channel_with_no_feed_and_no_wire_has_nothing_to_be_told():
    idle = with_model(DUO, channels=(Channel(feed="sub"), Channel()))
    unwired = replace(
        idle, lines=(), cabinets=(), racks=tuple(replace(rack, sockets=()) for rack in idle.racks)
    )
    assert told(assess(unwired)) == [("A1.1", "warn")]


def test_a_failed_channel_is_not_trusted():
    failed = with_model(DUO, channels=(Channel(feed="sub", state="failed"), Channel(feed="sub")))
    assert ("A1.1", "warn") in told(assess(failed))


def test_where_two_channels_share_a_connector_the_higher_voltage_is_told():
    two = replace(PLUG, pole_pairs=2, shrouded=False)
    equipment = Equipment(
        amplifiers=(DUO, replace(DUO, id="large", ratings=ratings(("8 ohm", "2500 W")))),
        loudspeakers=(BOX,),
        cables=(CABLE,),
        connectors=(two,),
    )
    both = rig((), amplifier("A1"), amplifier("A2", model="large"), equipment=equipment)
    first, second = both.racks
    shared = replace(first.sockets[0], poles=("A1.1", "A2.1"))
    joined = replace(
        both, racks=(replace(first, sockets=(shared,)), replace(second, sockets=())), lines=(), cabinets=()
    )
    result = assess(joined).touch["SA1-1"]
    assert (result.channel, result.touch_class) == ("A2.1", "ES3")
    assert result.voltage == pytest.approx(141.42, abs=0.01)


def shared_socket(*feeds: str, watts: str = "1100 W", shrouded: bool = True) -> Assessed:
    """One socket of two pole pairs, on the two channels of one amplifier with shrouded terminals."""
    model = replace(KILO, terminals="shrouded", ratings=ratings(("8 ohm", watts)))
    two = replace(PLUG, pole_pairs=2, shrouded=shrouded)
    equipment = Equipment(amplifiers=(model,), loudspeakers=(BOX,), cables=(CABLE,), connectors=(two,))
    channels = tuple(Channel(feed=feed) for feed in feeds)
    both = rig((), amplifier("A1", channels=channels), equipment=equipment)
    (rack,) = both.racks
    socket = replace(rack.sockets[0], poles=("A1.1", "A1.2"))
    return assess(replace(both, racks=(replace(rack, sockets=(socket,)),), lines=(), cabinets=()))


@pytest.mark.parametrize(
    ("assessed", "off"),
    [
        (shared_socket("sub", "sub"), set()),  # 93.8 V, ES2, one signal: the larger stands between them
        (shared_socket("sub", ""), set()),  # 187.6 V between the two, but no finger reaches either
        (shared_socket("sub", "", watts="100 W"), set()),  # 28.3 V and twice that are ES1
        (shared_socket("sub", "sub", watts="2000 W"), {"A1"}),  # 126.5 V, ES3
        (shared_socket("sub", "sub", watts="100 W", shrouded=False), {"A1"}),
    ],
)
def test_muting_is_enough_for_a_shrouded_connector_of_class_es1_or_es2(
    assessed: Assessed, off: set[str]
) -> None:
    """Classes: IEC 62368-1 Table E.1, from memory: ES1 to 71 V, ES2 to 120 V."""
    assert touch.powered_down(assessed.index, assessed.branches.values(), ["SA1-1"]) == off
    assert touch.powered_down(assessed.index, assessed.branches.values(), []) == set()


@pytest.mark.parametrize(
    ("feeds", "watts", "off"),
    [
        (("sub", ""), "200 W", {"A1"}),  # 40 V is ES1, 80 V between two contacts is ES2
        (("sub", "sub"), "200 W", set()),  # one signal: the larger stands between them
        (("sub", ""), "100 W", set()),  # 28.3 V and twice that are ES1
    ],
)
def test_a_reachable_contact_on_the_panel_sets_power_down_where_two_add_up_to_a_higher_class(
    feeds: tuple[str, ...], watts: str, off: set[str]
) -> None:
    closed = shared_socket(*feeds, watts=watts)
    (rack,) = closed.index.rig.racks
    bare = replace(closed.index.connector_models[rack.sockets[0].connector], id="bare", shrouded=False)
    equipment = closed.index.rig.equipment
    panel = replace(rack, sockets=(*rack.sockets, replace(rack.sockets[0], id="SA1-2", connector="bare")))
    mixed = assess(
        replace(
            closed.index.rig,
            racks=(panel,),
            equipment=replace(equipment, connectors=(*equipment.connectors, bare)),
        )
    )
    assert touch.powered_down(mixed.index, mixed.branches.values(), ["SA1-1"]) == off


@pytest.mark.parametrize(
    ("feeds", "watts", "expected"),
    [
        (("sub", ""), "200 W", 80.0),  # 40 V is ES1, the sum is ES2
        (("sub", ""), "1100 W", 187.62),  # 93.81 V is ES2, the sum is ES3
        (("sub", "sub"), "1100 W", None),  # one signal: the larger stands between them
        (("sub", ""), "100 W", None),  # 28.3 V and twice that are ES1
        (("sub", ""), "2000 W", None),  # each is a stop by itself
    ],
)
def test_two_exposed_contacts_that_add_up_to_a_higher_class_are_told_once_a_panel(
    feeds: tuple[str, ...], watts: str, expected: float | None
) -> None:
    """Classes: IEC 62368-1 Table E.1, from memory; √(P · 8 Ω) at each contact."""
    assessed = shared_socket(*feeds, watts=watts, shrouded=False)
    found = [f for f in assessed.findings if f.code == "touch-between-contacts"]
    assert [f.at for f in found] == ([] if expected is None else ["RA1"])
    for finding in found:
        assert (finding.severity, finding.figure) == ("warn", pytest.approx(expected, abs=0.01))


@pytest.mark.parametrize(
    ("watts", "shrouded", "expected"),
    [
        ("200 W", False, [("SA1-1", "warn", "touch-voltage")]),  # 40 V
        ("60 W", False, []),  # 21.9 V
        ("2000 W", False, [("SA1-1", "stop", "touch-voltage")]),  # 126.5 V
        ("200 W", True, []),
        ("60 W", True, []),
    ],
)
def test_in_the_wet_25_volts_are_the_limit_and_muting_is_never_enough(
    watts: str, shrouded: bool, expected: list[tuple[str, str, str]]
) -> None:
    """IEC 60364-4-41, from memory. Of shrouded contacts there is one warning for the rig."""
    dry = shared_socket("sub", "sub", watts=watts, shrouded=shrouded)
    assessed = assess(replace(dry.index.rig, wet=True), dry)
    told = [(f.at, f.severity, f.code) for f in assessed.findings if f.code.startswith("touch-")]
    once = [("supply", "warn", "touch-wet")] if watts != "60 W" else []
    assert sorted(told) == sorted([*expected, *once])
    assert touch.powered_down(assessed.index, assessed.branches.values(), ["SA1-1"]) == {"A1"}


def test_of_a_full_bridge_output_both_contacts_are_said_to_be_live():
    model = replace(DUO, output="full bridge")
    why = [assess(with_model(each)).touch["A1.1"].why for each in (DUO, model)]
    assert ["both its contacts are live to earth" in text for text in why] == [False, True]


def test_contacts_of_one_channel_never_add_up():
    """Between the two poles of one output stands its own voltage, whichever way round they are patched."""
    closed = shared_socket("sub", "", watts="1100 W", shrouded=False).index.rig
    (rack,) = closed.racks
    reversed_too = replace(rack, sockets=(replace(rack.sockets[0], poles=("A1.1", "-A1.1")),))
    found = assess(replace(closed, racks=(reversed_too,))).findings
    assert "touch-between-contacts" not in {f.code for f in found}


@pytest.mark.parametrize(("watts", "order"), [("1100 W", "mute"), ("2000 W", "power A1 down")])
def test_the_order_before_a_plug_is_moved_follows_the_one_rule(watts: str, order: str) -> None:
    """93.8 V is ES2: muting is enough behind a shrouded connector; 126.5 V is ES3."""
    assessed = shared_socket("sub", "sub", watts=watts)
    assert touch.made_safe(assessed.index, assessed.branches.values(), ["SA1-1"]) == order


@pytest.mark.parametrize(("watts", "order"), [("200 W", "Mute, then"), ("1100 W", "Power A1 down, then")])
def test_so_does_the_advice_to_wire_a_bridge_anew(watts: str, order: str) -> None:
    """40 V a channel bridge to 80 V, ES2; 93.8 V to 187.6 V, ES3."""
    bridged = assess(edits.change(shared_socket("sub", "sub", watts=watts).index.rig, "A1", mode="bridged"))
    (finding,) = (f for f in bridged.findings if f.code == "bridge-second-wired")
    assert finding.advice.startswith(order)


def test_the_line_that_every_sheet_carries():
    assert "local codes" in PLANNING
    assert "licensed electrician" in PLANNING
