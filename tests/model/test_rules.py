"""Every breach of the rules: where it is told to be, what is told to be wrong, and what to do."""

import pytest
from hypothesis import given
from msgspec.structs import replace

from rackwright.model import rules
from rackwright.model.equipment import Equipment, Rating
from rackwright.model.lines import Line
from rackwright.model.mains import Supply
from rackwright.model.racks import Channel
from rackwright.units import Frequency, Impedance, Length, Power, Resistance, Voltage
from strategies import rigs

from .rigs import DUO, FLEX, FOUR, QUAD, RIG, SUB, THIN, TRIO, TWO, UPPER, WEDGE, put

AMPLIFIER = ("racks", 0, "amplifiers", 0)
SOCKET = ("racks", 0, "sockets", 0)
MODEL = ("equipment", "amplifiers", 0)
SPEAKER = ("equipment", "loudspeakers", 0)
SECTION = (*SPEAKER, "sections", 0)
FIVE_METRES = Length.parse("5 m")


def test_a_sound_rig_breaks_none():
    assert rules.check(RIG) == ()


@given(rigs())
def test_the_rigs_that_other_tests_draw_break_none(rig):
    assert rules.check(rig) == ()


@pytest.mark.parametrize(
    ("path", "value", "message"),
    [
        (
            ("format",),
            3,
            "This is format 3. This program reads formats up to 2; open it with the program that wrote it.",
        ),
        (
            (*AMPLIFIER, "id"),
            "A 1",
            '"A 1" can\'t be an id. Use letters, digits, - and _, with no space or dot and no - at the start, such as '
            '"A-1".',
        ),
        (
            ("cabinets", 3, "id"),
            "-W.2",
            '"-W.2" can\'t be an id. Use letters, digits, - and _, with no space or dot and no - at the start, such as '
            '"W-2".',
        ),
        (
            ("cabinets", 3, "id"),
            "",
            "The id is empty. Use letters, digits, - and _, with no space or dot and no - at the start.",
        ),
        (
            ("cabinets", 3, "id"),
            "A1",
            'The id "A1" is taken by an amplifier already. Give one of the two another id: each is the only one of its '
            "name on the crew's tape.",
        ),
        (
            ("supply", "generator_dip"),
            0.5,
            "Generator dip 0.5 is outside 0 to 0.3. Write one such as 0.05.",
        ),
        (
            ("supply", "phases"),
            1,
            "The supply has a single phase and circuits are on L1 and L2. Write phases = 3, or put every circuit on "
            "one phase.",
        ),
        (
            ("targets", "damping_factor"),
            0,
            "Damping factor 0 is outside 0.1 to 9999. Write one such as 20.",
        ),
        (
            ("targets", "programme_duty"),
            1.5,
            "Programme duty 1.5 is outside 0.001 to 1. Write one such as 0.125.",
        ),
        (
            ("targets", "heavy_duty"),
            0.0,
            "Heavy duty 0 is outside 0.001 to 1. Write one such as 0.3333.",
        ),
        (
            ("feeds", 0, "band"),
            (Frequency.parse("90 Hz"), Frequency.parse("32 Hz")),
            "The band of sub ends at 32 Hz, which is not above its start at 90 Hz. Write the lower edge first.",
        ),
        (
            ("racks", 0, "height"),
            0,
            "Height 0 is outside 1 to 999. Write one such as 12.",
        ),
        (("cabinets", 0, "priority"), 0, "Priority 0 is outside 1 to 999. Write one such as 1."),
        ((*AMPLIFIER, "unit"), 0, "Unit 0 is outside 1 to 999. Write one such as 1."),
        ((*AMPLIFIER, "circuit"), "P3", 'There is no circuit "P3". Did you mean "P2"? There are: P1, P2.'),
        (
            (*AMPLIFIER, "channels", 1, "feed"),
            "subs",
            'There is no feed "subs". Did you mean "sub"? There are: sub, full.',
        ),
        ((*AMPLIFIER, "model"), "none", 'There is no amplifier model "none". There are: duo, quad, trio.'),
        (
            (*AMPLIFIER, "channels"),
            (Channel(), Channel(), Channel()),
            "A1 lists 3 channels and duo has 2. List 2 at most.",
        ),
        (
            (*AMPLIFIER, "mode"),
            ("dual", "dual"),
            "A1 has 2 modes and duo has 2 channels. Give one mode for all, or one for each two channels.",
        ),
        (
            (*SOCKET, "connector"),
            "for",
            'There is no connector "for". Did you mean "four"? There are: four, two.',
        ),
        (
            (*SOCKET, "poles"),
            ("", "", "A1.1"),
            "R1-1 has 3 pole pairs and four has 2. List 2 at most.",
        ),
        (
            (*SOCKET, "poles", 1),
            "A1",
            '"A1" is not a channel. Write a channel such as "A1.1", "-A1.1" for reversed polarity, or "" for not wired.',
        ),
        (
            (*SOCKET, "poles", 1),
            "A1.0",
            '"A1.0" is not a channel. Write a channel such as "A1.1", "-A1.1" for reversed polarity, or "" for not '
            "wired.",
        ),
        (
            (*SOCKET, "poles", 1),
            "A1.1, A2.1",
            "Two channels, A1.1 and A2.1, drive pole pair 2 of R1-1. Name one: joining two outputs destroys both.",
        ),
        (
            (*SOCKET, "poles", 1),
            "A4.1",
            'There is no amplifier "A4". Did you mean "A3"? There are: A1, A2, A3.',
        ),
        (
            (*SOCKET, "poles", 1),
            "A1.3",
            "A1 has 2 channels, and A1.3 would be number 3. Name a channel from A1.1 to A1.2.",
        ),
        (
            ("lines", 0, "from"),
            "R1-9",
            'There is no socket or cabinet "R1-9". Did you mean "R1-2"? There are: R1-1, R1-2, R2-1, SUB-L1, SUB-L2, W1, '
            "W2.",
        ),
        (
            ("lines", 2, "to"),
            "W9",
            'There is no cabinet "W9". Did you mean "W2"? There are: SUB-L1, SUB-L2, W1, W2.',
        ),
        (
            ("lines", 0, "cable"),
            "flex-9",
            'There is no cable "flex-9". Did you mean "flex-4"? There are: flex-4, flex-2.',
        ),
        (
            ("lines", 0, "cores_per_pole"),
            3,
            "3 cores per pole don't fit the 4 cores of flex-4. Write a number from 1 to 2.",
        ),
        (
            ("lines", 0, "cores_per_pole"),
            0,
            "0 cores per pole don't fit the 4 cores of flex-4. Write a number from 1 to 2.",
        ),
        (
            ("lines", 0, "poles"),
            (1, 2, 1),
            "L1 maps 3 pole pairs and its cable carries 2. List as many as the cable carries, or use a cable with more "
            "cores, or fewer cores per pole.",
        ),
        (
            ("cabinets", 0, "model"),
            "sub",
            'There is no loudspeaker model "sub". There are: sub-double, wedge.',
        ),
        (
            ("cabinets", 0, "wiring"),
            "joint",
            'There is no wiring of sub-double "joint". Did you mean "joined"? There are: split, joined.',
        ),
        (
            ("lines", 1, "to"),
            "SUB-L1",
            "SUB-L1 is fed twice, by L1 and L2. Unplug one: a second line would join two amplifier outputs at the "
            "cabinet.",
        ),
        (
            ("lines", 0, "from"),
            "SUB-L2",
            "The lines L2 → L1 run in a loop. Start the first of them at a rack socket.",
        ),
        (
            ("lines", 0, "from"),
            "SUB-L1",
            "The lines L1 run in a loop. Start the first of them at a rack socket.",
        ),
        ((*MODEL, "id"), " duo", '" duo" can\'t be an id. Write one with no space around.'),
        (
            ("equipment", "amplifiers", 1, "id"),
            "duo",
            '"duo" is listed twice under the amplifiers. Give one of the two another id.',
        ),
        ((*MODEL, "channels"), 0, "Channels 0 is outside 1 to 64. Write one such as 2."),
        ((*MODEL, "height"), 61, "Height 61 is outside 1 to 60. Write one such as 2."),
        ((*MODEL, "ratings"), (), "duo has no rated power. Give one load and its power at least."),
        ((*MODEL, "ratings"), DUO.ratings[:1] * 2, "duo is rated twice for one load. Keep one of the two."),
        ((*MODEL, "bridged"), DUO.ratings[:1] * 2, "duo is rated twice for one load. Keep one of the two."),
        (
            (*MODEL, "efficiency"),
            80.0,
            "Efficiency 80 is outside 0.05 to 1. Write one such as 0.8.",
        ),
        (
            (*MODEL, "power_factor"),
            0.0,
            "Power factor 0 is outside 0.05 to 1. Write one such as 0.62.",
        ),
        (
            (*MODEL, "damping_factor", "value"),
            0.0,
            "Value 0 is outside 1 to 100000. Write one such as 400.",
        ),
        ((*SPEAKER, "connector"), "six", 'There is no connector "six". There are: four, two.'),
        ((*SPEAKER, "wirings"), {}, "sub-double has no wiring. Say which pole pair drives which sections."),
        (
            (*SPEAKER, "wirings", "joined"),
            ((), (), ("upper",)),
            "Wiring joined uses 3 pole pairs and four has 2. Use 2 at most.",
        ),
        (
            (*SPEAKER, "wirings", "joined", 0),
            ("uper", "lower"),
            'There is no section of sub-double "uper". Did you mean "upper"? There are: upper, lower.',
        ),
        (
            (*SPEAKER, "wirings", "joined", 0),
            ("upper", "upper"),
            "Wiring joined drives a section twice from one pole pair. Name it once.",
        ),
        ((*SECTION, "id"), "lower", '"lower" is listed twice under the sections. Rename one of the two.'),
        (
            (*SECTION, "id"),
            "up per",
            '"up per" can\'t be an id. Use letters, digits, - and _, with no space or dot and no - at the start, such as '
            '"up-per".',
        ),
        (
            (*SECTION, "dc_resistance"),
            Resistance.parse("0 ohm"),
            "A driver's DC resistance can't be zero. Write what a meter shows, such as 5.4 ohm.",
        ),
        (
            (*SECTION, "highest"),
            Frequency.parse("20 Hz"),
            "highest, 20 Hz, is not above lowest, 28 Hz. Exchange them.",
        ),
        (
            (*SECTION, "driver", "qms"),
            0.0,
            "Qms 0 is outside 0.01 to 1000. Write one such as 6.5.",
        ),
        (
            (*SECTION, "driver", "qes"),
            -1.0,
            "Qes -1 is outside 0.01 to 1000. Write one such as 0.4.",
        ),
        (
            (*SECTION, "driver", "ql"),
            2000.0,
            "Ql 2000 is outside 0.01 to 1000. Write one such as 7.",
        ),
        (
            (*SECTION, "driver", "alpha"),
            None,
            "A vented box needs its compliance ratio alpha. Write a number such as alpha = 1.1.",
        ),
        (
            (*SECTION, "driver", "fb"),
            None,
            'A vented box needs its tuning fb. Write it such as fb = "36 Hz".',
        ),
        (
            (*MODEL, "mains"),
            (Voltage.parse("240 V"), Voltage.parse("100 V")),
            "The mains voltage of duo ends at 100 V, under its start at 240 V. Write the lower one first.",
        ),
        (
            ("equipment", "cables", 0, "cores"),
            5,
            "flex-4 has 5 cores. Write an even number: a pole pair takes two.",
        ),
        (
            ("equipment", "connectors", 0, "pole_pairs"),
            17,
            "Pole pairs 17 is outside 1 to 16. Write one such as 2.",
        ),
    ],
)
def test_breach(path, value, message):
    found = rules.check(put(RIG, path, value))
    assert (path, message) in [(problem.path, str(problem)) for problem in found]


def only(rig):
    """The one breach of a rig."""
    (problem,) = rules.check(rig)
    return problem.path, str(problem)


@pytest.mark.parametrize("mode", ["bridged", ("dual", "parallel")])
def test_an_odd_channel_has_no_partner(mode):
    trio = put(put(RIG, (*AMPLIFIER, "model"), "trio"), (*AMPLIFIER, "mode"), mode)
    last = mode if isinstance(mode, str) else mode[1]
    assert only(trio) == (
        (*AMPLIFIER, "mode"),
        f"The last channel of A1 has no partner to be {last} with. "
        'Give a list of modes with "dual" for the last.',
    )
    assert rules.check(put(trio, (*AMPLIFIER, "mode"), ("bridged", "dual"))) == ()


def test_more_pairs_mapped_than_the_far_connector_has():
    rig = put(RIG, ("lines", 2), replace(RIG.lines[2], cable="flex-4", poles=(1, 2)))
    assert only(rig) == (
        ("lines", 2, "poles"),
        "L3 maps 2 pole pairs and the connector of W1 has 1. List 1 at most.",
    )


@pytest.mark.parametrize(("poles", "position"), [((3,), 0), ((1, 0), 1)])
def test_a_pole_pair_that_the_near_end_has_not(poles, position):
    assert only(put(RIG, ("lines", 0, "poles"), poles)) == (
        ("lines", 0, "poles", position),
        f"There is no pole pair {poles[position]} at R1-1. Write a number from 1 to 2.",
    )


def test_a_pole_pair_below_one_where_the_near_end_is_missing():
    rig = put(RIG, ("lines", 0), replace(RIG.lines[0], source="nowhere", poles=(0,)))
    assert (("lines", 0, "poles", 0), "There is no pole pair 0 at nowhere. Write a number of 1 or more.") in [
        (problem.path, str(problem)) for problem in rules.check(rig)
    ]


def test_a_loudspeaker_with_no_section():
    rig = put(put(RIG, (*SPEAKER, "sections"), ()), (*SPEAKER, "wirings"), {"split": ()})
    rig = put(rig, ("cabinets", 0, "wiring"), "")
    assert only(rig) == ((*SPEAKER, "sections"), "sub-double has no section. Give one at least.")


def test_a_cabinet_that_names_no_wiring_takes_the_first():
    assert rules.check(put(RIG, ("cabinets", 0, "wiring"), "")) == ()


def test_what_is_missing_where_there_is_nothing_of_its_kind():
    rig = put(RIG, ("equipment", "connectors"), ())
    assert 'There is no connector "four". There is none yet: add a connector of that id first.' in [
        str(problem) for problem in rules.check(rig)
    ]
    assert rules.missing("amplifier", "A1", ())[1] == "There is none yet: add an amplifier of that id first."


def test_a_long_list_of_what_there_is_is_cut_short():
    assert rules.missing("feed", "zz", [f"f{i}" for i in range(12)])[1] == (
        "There are: f0, f1, f2, f3, f4, f5, f6, f7 and 4 more."
    )


def test_a_loop_is_told_once_and_names_its_lines_in_order():
    rig = put(RIG, ("lines", 0, "from"), "SUB-L2")
    rig = replace(
        rig, lines=(*rig.lines, Line(id="L4", source="SUB-L2", to="W2", cable="flex-2", length=FIVE_METRES))
    )
    assert only(rig) == (
        ("lines", 0, "from"),
        "The lines L2 → L1 run in a loop. Start the first of them at a rack socket.",
    )


def test_problems_come_in_the_order_of_the_rig_file():
    rig = put(put(put(RIG, ("cabinets", 0, "wiring"), "x"), (*AMPLIFIER, "unit"), 0), ("format",), 3)
    assert [problem.path[0] for problem in rules.check(rig)] == ["format", "racks", "cabinets"]


@pytest.mark.parametrize("path", [(*MODEL, "channels"), ("equipment", "connectors", 0, "pole_pairs")])
def test_a_count_past_any_bound_is_told_and_not_counted_out(path):
    """What so many places would take of memory and time no machine has."""
    assert only(put(RIG, path, 2**62))[0] == path


def test_equipment_on_its_own():
    """A library is checked by itself; a loudspeaker's connector is looked up in the same set."""
    library = Equipment(
        amplifiers=(DUO, QUAD, TRIO), loudspeakers=(SUB, WEDGE), cables=(FLEX, THIN), connectors=(FOUR, TWO)
    )
    assert rules.check_equipment(library) == ()
    (problem,) = rules.check_equipment(replace(library, connectors=(FOUR,)))
    assert problem.path == ("loudspeakers", 1, "connector")


def test_a_sealed_box_needs_no_tuning():
    sealed = replace(UPPER.driver, box="sealed", alpha=None, fb=None)
    assert rules.check(put(RIG, (*SECTION, "driver"), sealed)) == ()


def test_what_is_only_unwise_is_no_breach():
    """Units that overlap, a low load, two circuits on one phase: findings, the engine's to say."""
    rig = put(RIG, ("racks", 0, "amplifiers", 1, "unit"), 1)
    low = Rating(load=Impedance.parse("0.5 ohm"), power=Power.parse("1 W"))
    rig = put(put(rig, (*MODEL, "bridged"), (low,)), ("supply",), Supply(phases=3))
    assert rules.check(rig) == ()
