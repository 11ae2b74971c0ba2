"""Each kind of problem is told with its place, what is wrong and what to do."""

import re

import pytest
from hypothesis import given

from rackwright.model.equipment import Equipment
from rackwright.model.rig import Rig
from rackwright.store.library import equipment_of
from rackwright.store.rig_file import RigFileError, dumps, loads
from rackwright.store.toml import positions
from rackwright.store.toml.encode import plain
from store.sample import EQUIPMENT, RIG, changed, line_with
from strategies import rigs

CASES = [
    # (what stands in the sample, what stands there instead, place, words of the message)
    ('cable = "flex-4x2.5"', 'cable = "flex-4x25"', 'line "L1" › cable', 'no cable "flex-4x25". Did you mean "flex-4x2.5"'),
    ('length = "20 m"', "length = 20", 'line "L1" › length', 'no unit. Write a length such as "25 m"'),
    ('length = "20 m"', 'length = "20 V"', 'line "L1" › length', '"20 V" is a voltage, not a length'),
    ('length = "20 m"', "length = true", 'line "L1" › length', "A length is expected, and true is a yes or no. Write a length"),
    ('length = "20 m"', "length = inf", 'line "L1" › length', "A length is expected, and this is inf"),
    ('length = "20 m"', 'length = ["20 m"]', 'line "L1" › length', "A length is expected, and this is a list"),
    ('length = "20 m"', "length = 2026-01-01", 'line "L1" › length', "this is a date or a time"),
    ('length = "20 m"', f'length = "{"9" * 5000} m"', 'line "L1" › length', "A length is expected"),
    ('length = "20 m"', 'lenght = "20 m"', 'line "L1" › lenght', 'There is no key "lenght" here. Did you mean "length"?'),
    ('length = "20 m"', "", 'line "L1" › length', 'The key "length" is missing. Add it: length = "25 m".'),
    ('id = "L1"\n', "id = 7\n", "line 1 › id", 'Text is expected, and 7 is a number. Write "7", in quotes.'),
    ('poles = [2, 1]', 'poles = [2, "1"]', 'line "L2" › pole pair 2', 'A whole number is expected, and "1" in quotes is text. Write 1'),
    ('poles = [2, 1]', "poles = 2", 'line "L2" › poles', "A list is expected, and 2 is a number. Put it in square brackets"),
    ('poles = [2, 1]', "poles = [2, true]", 'line "L2" › pole pair 2', "A whole number is expected, and true is a yes or no"),
    ('poles = [2, 1]', "poles = [2, 1.0]", 'line "L2" › pole pair 2', "1.0 is a number with a point. Write 1, with no point."),
    ('poles = [2, 1]', "poles = [2, 3]", 'line "L2" › pole pair 2', "no pole pair 3 at C1. Write a number from 1 to 2."),
    ('poles = [2, 1]', f"poles = [2, {'9' * 40}]", 'line "L2" › pole pair 2', "this number is too large"),
    ('poles = [2, 1]', f"poles = [2, 0x{'f' * 9000}]", 'line "L2" › pole pair 2', "this number is too large"),
    ("priority = 1", "priority = 0", 'cabinet "C1" › priority', "Priority 0 is outside 1 to 999. Write one such as 1"),
    ("unit = 3", 'unit = "3"', 'rack "R1" › amplifier "A1" › unit', '"3" in quotes is text. Write 3, without quotes.'),
    ('mode = "dual"', 'mode = "duel"', 'amplifier "A1" › mode', '"duel" is none of the choices. Did you mean "dual"? Write one of "dual", "parallel", "bridged".'),
    ('mode = "dual"', "mode = 2", 'amplifier "A1" › mode', "One of the choices is expected, and 2 is a number"),
    ('mode = ["bridged"]', 'mode = ["bridge"]', 'amplifier "A2" › pair 1', 'Did you mean "bridged"?'),
    ('mode = ["bridged"]', 'mode = ["dual", "dual"]', 'amplifier "A2" › mode', "2 modes and two has 2 channels"),
    ('{ feed = "sub" }', '{ fed = "sub" }', 'amplifier "A1" › channel 1 › fed', 'Did you mean "feed"?'),
    ('{ feed = "sub" }', '{ feed = "sbu" }', 'amplifier "A1" › channel 1 › feed', 'no feed "sbu". Did you mean "sub"?'),
    ('{ feed = "sub" }', '"sub"', 'amplifier "A1" › channel 1', 'A table is expected, and "sub" in quotes is text'),
    ('band = ["32 Hz", "90 Hz"]', 'band = "32 Hz"', 'feed "sub" › band', 'Two values are expected, and "32 Hz" in quotes is text'),
    ('band = ["32 Hz", "90 Hz"]', 'band = ["32 Hz"]', 'feed "sub" › band', "Two values are expected, and this is a list of 1"),
    ('band = ["32 Hz", "90 Hz"]', 'band = ["32 Hz", 90]', 'feed "sub" › edge 2', '90 is a plain number with no unit'),
    ('band = ["32 Hz", "90 Hz"]', 'band = ["90 Hz", "32 Hz"]', 'feed "sub" › band', "Write the lower edge first."),
    ("[supply]", "[[supply]]", "supply", "One table is expected, and this is a list. Write its header once and in single brackets, [supply]"),
    ("[targets]", "[other]", "other", "There is no key \"other\" here. The keys here are: format, name, notes, wet, venue, supply"),
    ("\n[supply]", "", "voltage", 'no key "voltage" here. Did you mean "supply.voltage"?'),
    ("[[racks.sockets]]", "[[sockets]]", "sockets", 'Did you mean "racks.sockets"?'),
    ("[[racks.amplifiers]]", "[[amplifiers]]", "amplifiers", 'Did you mean "racks.amplifiers" or "equipment.amplifiers"?'),
    ("[[equipment.cables]]", "[[cables]]", "cables", 'Did you mean "equipment.cables"?'),
    ('supply_cable = { length = "30 m", size = "2.5 mm2" }', 'supply_cable = "30 m"', 'circuit "P1" › supply_cable', "Write keys and values: supply_cable = { length = …, size = … }."),
    ("damping_factor = 20", 'damping_factor = "20"', "targets › damping_factor", 'A number is expected, and "20" in quotes is text. Write 20'),
    ("damping_factor = 20", "damping_factor = nan", "targets › damping_factor", "A finite number is expected, and this is nan"),
    ("damping_factor = 20", "damping_factor = -20", "targets › damping_factor", "Write one such as 20."),
    ("[targets]", "[target]", "target", 'no key "target" here. Did you mean "targets"?'),
    ("[[circuits]]", "[circuits]", "circuits", "A list of tables is expected, and this is a single table. Write the header of each in double brackets, [[circuits]]"),
    ('breaker = "16 A"', "", 'circuit "P1" › breaker', 'Add it: breaker = "16 A".'),
    ('size = "2.5 mm2"', 'size = "2.5"', 'circuit "P1" › supply_cable › size', '"2.5" has no unit.'),
    ("shrouded = true", 'shrouded = "true"', 'equipment › connector "plug" › shrouded', 'true or false is expected, and "true" in quotes is text'),
    ("efficiency = 0.8", "efficiency = 80", 'equipment › amplifier "two" › efficiency', "outside 0.05 to 1"),
    ("alpha = 1.1, ", "", 'loudspeaker "box" › section "upper" › driver › alpha', "needs its compliance ratio alpha"),
    ('split = [["upper"], ["lower"]]', 'split = [["upper"], ["louder"]]', 'loudspeaker "box" › wiring "split" › pole pair 2', 'no section of box "louder". Did you mean "lower"?'),
    ('split = [["upper"], ["lower"]]', 'split = ["upper", ["lower"]]', 'wiring "split" › pole pair 1', 'Put it in square brackets: ["upper"].'),
    ('id = "A2"', 'id = "A1"', 'amplifier "A1" › id', 'The id "A1" is taken by an amplifier already'),
    ('id = "A2"', 'id = "A 2"', 'amplifier "A 2" › id', 'such as "A-2"'),
    ('id = "A2"', f'id = "A{"2" * 5000}"', "id", "An id of 5001 characters is too long for a label. Write 60 at most."),
    ('id = "A2"\n', "", "amplifier 2 › id", 'The key "id" is missing'),
    ('"A1.1", "A1.2"', '"A1.1", "A1.2+A2.1"', 'socket "S1" › pole pair 2', "Two channels, A1.2 and A2.1, drive pole pair 2 of S1"),
    ('"A1.1", "A1.2"', f'"A1.1", "{"x" * 90_000}"', 'socket "S1" › pole pair 2', "is not a channel"),
    ('"A1.1", "A1.2"', '"A1.1", "A1.9"', 'socket "S1" › pole pair 2', "would be number 9"),
    ('"A1.1", "A1.2"', '"A1.1", "A9.1"', 'socket "S1" › pole pair 2', 'no amplifier "A9"'),
    ('to = "C2"', 'to = "C1"', 'line "L2" › to', "C1 is fed twice, by L1 and L2"),
    ('from = "S1"', 'from = "C2"', 'line "L1" › from', "run in a loop. Start the first of them at a rack socket."),
    ('wiring = "joined"', 'wiring = "joint"', 'cabinet "C2" › wiring', 'no wiring of box "joint"'),
    ('name = "Boat house"', "", "name", 'The key "name" is missing'),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "where", "words"), CASES)
def test_a_problem_is_told_with_its_place_and_what_to_do(old: str, new: str, where: str, words: str) -> None:
    with pytest.raises(RigFileError) as caught:
        loads(changed(old, new), "rig.toml")
    told = [part for part in str(caught.value).split("\n\n") if words in part]
    assert told, str(caught.value)
    assert told[0].startswith("rig.toml")
    assert f"{where}: " in told[0]


def lines_told(text: str) -> list[int]:
    """The line numbers named in the message that a text gives."""
    with pytest.raises(RigFileError) as caught:
        loads(text, "rig.toml")
    return [
        int(number) for number in re.findall(r"^rig\.toml, line (\d+): ", str(caught.value), re.MULTILINE)
    ]


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('length = "80 ft"', "length = 80"),
        ('{ feed = "sub", state = "failed" }', '{ feed = "sbu", state = "failed" }'),
        ("unit = 5", "unit = 0.5"),
        ('size = "2.5 mm2" }', 'size = "250 mm2" }'),
        ('wiring = "joined"', 'wirring = "joined"'),
        ('highest = "200 Hz"', 'highest = "2 Hz"'),
        ("cores = 4", "cores = 3"),
    ],
)
def test_the_line_named_is_the_line_that_was_spoilt(old: str, new: str) -> None:
    text = changed(old, new)
    assert line_with(new, text) in lines_told(text)


def test_a_figure_that_may_be_assumed_is_told_with_how_to_say_so() -> None:
    text = changed('gain = "32 dB"\n', "")
    with pytest.raises(RigFileError) as caught:
        loads(text, "rig.toml")
    (problem,) = caught.value.problems
    assert problem.advice == (
        'Add it: gain = "32 dB". If no data sheet says it, add gain = "32 dB" and list it: assumed = ["gain"].'
    )
    fixed = changed('gain = "32 dB"\n', 'gain = "32 dB"\nassumed = ["gain"]\n')
    assert loads(fixed, "rig.toml").equipment.amplifiers[0].assumed == ("gain",)


@pytest.mark.parametrize(
    ("assumed", "told"),
    [
        ('["gian"]', 'Did you mean "gain"?'),
        ('["ratings"]', '"ratings" is none of the choices'),
        ('"gain"', 'Put it in square brackets: ["gain"]'),
        ("[32]", "One of the choices is expected"),
    ],
)
def test_what_may_not_be_assumed_is_refused_in_its_line(assumed: str, told: str) -> None:
    text = changed('gain = "32 dB"\n', f'gain = "32 dB"\nassumed = {assumed}\n')
    with pytest.raises(RigFileError) as caught:
        loads(text, "rig.toml")
    assert told in str(caught.value)
    assert lines_told(text) == [line_with("assumed =", text)]


def test_a_missing_key_is_told_at_the_header_of_its_table() -> None:
    text = changed('to = "C2"\n', "")
    assert lines_told(text) == [line_with('id = "L2"', text) - 1]


def test_problems_of_reading_and_of_wiring_are_told_together_in_the_order_of_the_file() -> None:
    text = changed('cable = "flex-4x2.5"', 'cable = "flex"')
    text = changed('length = "20 m"', "length = 20", text)
    text = changed("unit = 3", 'unit = "3"', text)
    text = changed('to = "C2"', 'to = "C9"', text)
    text = changed('wiring = "split"', 'wirring = "split"', text)
    wanted = ['unit = "3"', 'cable = "flex"', "length = 20\n".strip(), 'to = "C9"', 'wirring = "split"']
    assert lines_told(text) == [line_with(part, text) for part in wanted]


def test_where_a_part_can_not_be_built_the_message_says_what_was_not_checked() -> None:
    with pytest.raises(RigFileError) as caught:
        loads(changed('model = "box"\n', ""), "rig.toml")
    assert len(caught.value.problems) == 1
    assert str(caught.value).endswith("References and wiring can only be checked once this is fixed.")


def test_an_equipment_file_opened_as_a_rig_is_told_as_such() -> None:
    with pytest.raises(RigFileError, match="This is an equipment file, not a rig"):
        loads(EQUIPMENT, "mine.toml")


def test_a_slip_raises_no_second_complaint() -> None:
    for old, new in (
        ('lowest = "30 Hz"\nhighest', 'lowest = "30"\nhighest'),
        ("[[feeds]]", "[[feed]]"),
        ("[[racks.amplifiers]]", "[[racks.amplifier]]"),
        ("[[racks.sockets]]", "[[sockets]]"),
        ('\n[[lines]]\nid = "L1"', '\n[[line]]\nid = "L1"'),
        ("alpha = 1.1", "alfa = 1.1"),
        ("alpha = 1.1", 'alpha = "x"'),
        ("value = 300", "value = nan"),
        (
            'load = "8 ohm", power = "500 W" }, { load = "4 ohm"',
            'load = 8, power = "500 W" }, { load = "4 ohm"',
        ),
    ):
        with pytest.raises(RigFileError) as caught:
            loads(changed(old, new), "rig.toml")
        assert len(caught.value.problems) == 1, str(caught.value)


def test_missing_equipment_is_told_with_all_there_is_in_the_library() -> None:
    library = equipment_of(EQUIPMENT, "library", Equipment())
    for old, new, words in (
        ('model = "two"', 'model = "tow"', 'no amplifier model "tow". Did you mean "two"?'),
        ('model = "box"', 'model = "boks"', 'no loudspeaker model "boks". Did you mean "box"?'),
        ('cable = "flex-4x2.5"', 'cable = "flex-4x25"', 'no cable "flex-4x25". Did you mean "flex-4x2.5"?'),
        ('connector = "plug"', 'connector = "plus"', 'no connector "plus". Did you mean "plug"?'),
    ):
        with pytest.raises(RigFileError) as caught:
            loads(RIG.replace(old, new), "rig.toml", library)
        assert words in str(caught.value)


def test_a_file_of_a_later_format_gets_one_complaint() -> None:
    with pytest.raises(RigFileError) as caught:
        loads('format = 3\nname = "x"\nwires = 3\n', "rig.toml")
    assert str(caught.value) == (
        "rig.toml, line 1: format: This is format 3. "
        "This program reads formats up to 2; open it with the program that wrote it."
    )


SYNTAX = [
    ('length = "20 m"', "length = 20 m", "There is more text after the end of a value"),
    ('length = "20 m"', "length = twenty", "This value can't be read. Put text and quantities in quotes"),
    ('length = "20 m"', 'length "20 m"', "A key has no value. Write key = value"),
    ('length = "20 m"', 'length = "20 m', "The quotes of a text are not closed on this line"),
    ('length = "20 m"', 'length = "20 m"\nlength = "20 m"', "This table has a key twice"),
    ("[supply]", "[supply", "A header is not closed"),
    ("[targets]", "[supply] # again", "This header is there twice"),
    ('"A1.1", "A1.2"', '"A1.1" "A1.2"', "A list is not closed, or a comma is missing in it"),
    ('length = "30 m", size', 'length = "30 m" size', "A table is not closed, or a comma is missing in it"),
]


@pytest.mark.parametrize(("old", "new", "words"), SYNTAX)
def test_a_slip_of_syntax_is_told_in_plain_words_with_line_and_column(old: str, new: str, words: str) -> None:
    text = changed(old, new)
    with pytest.raises(RigFileError) as caught:
        loads(text, "rig.toml")
    message = str(caught.value)
    assert words in message
    line, column = (int(part.split(":")[0].split()[1]) for part in message.split(", ")[1:3])
    assert line_with(new.split("\n")[0], text) <= line <= line_with(new.split("\n")[0], text) + 1
    assert column >= 1


def test_a_text_never_closed_is_told_at_the_end() -> None:
    with pytest.raises(RigFileError, match=r"^rig.toml, at its end: The quotes of a text are never closed"):
        loads('name = """x', "rig.toml")


def test_what_a_file_holds_can_not_steer_the_terminal() -> None:
    with pytest.raises(RigFileError) as caught:
        loads(changed('id = "A2"', 'id = "\\u001b[2J\\u202e\\n A2"'), "rig.toml")
    assert "\\u001b[2J\\u202e\\u000a A2" in str(caught.value)


def test_every_problem_is_kept_though_only_the_first_hundred_are_written_out() -> None:
    text = RIG + "".join(f'[[cabinets]]\nid = "X{n}"\nmodel = "none"\n' for n in range(150))
    with pytest.raises(RigFileError) as caught:
        loads(text, "rig.toml")
    assert len(caught.value.problems) >= 150
    assert "more problems in rig.toml." in str(caught.value)


# ---- Lines of a text -----------------------------------------------------------------------------------


@given(rigs())
def test_every_key_and_item_is_found_on_the_line_it_stands_on(rig: Rig) -> None:
    text = dumps(rig)
    lines, rows = positions.lines_of(text), text.split("\n")

    def walk(path: tuple[str | int, ...], data: object) -> None:
        if path and path not in (("equipment",),):
            row = rows[positions.line_of(path, lines) - 1]  # type: ignore[operator]
            keys = [part for part in path if isinstance(part, str)]
            assert (
                keys[-1] in row or plain(keys[-1]).encode("unicode_escape").decode() in row or '"' in keys[-1]
            )
            if isinstance(data, str) and data.isalnum():
                assert data in row
        if isinstance(data, dict):
            for key, value in data.items():
                walk((*path, key), value)
        elif isinstance(data, list) and "[\n" not in rows[lines[path] - 1] + "\n":
            for i, value in enumerate(data):
                walk((*path, i), value)

    walk((), plain(rig))


def test_lines_are_found_in_what_people_write() -> None:
    text = "\n".join(
        [
            "# [[lines]]",
            'a = """',
            '[[lines]] "" \\""" ',
            '"""',
            "'b c'.d = '''",
            "[x]''' # = [",
            '[ supply . "x.y" ]',
            "v = [ 1, # ]",
            "  { p = 1, q = [",
            "    2 ] } ]",
            "[[ lines ]]",
            "[[lines.ends]]",
            "[[lines.ends]]",
            "k = 1",
            "[lines.ends.deep]",
            "[[lines]]",
            "[[lines.ends]]",
            "k.m = 2",
        ]
    )
    wanted = {
        ("a",): 2,
        ("b c", "d"): 5,
        ("supply", "x.y"): 7,
        ("supply", "x.y", "v"): 8,
        ("supply", "x.y", "v", 0): 8,
        ("supply", "x.y", "v", 1): 9,
        ("supply", "x.y", "v", 1, "q"): 9,
        ("supply", "x.y", "v", 1, "q", 0): 10,
        ("lines", 0): 11,
        ("lines", 0, "ends", 1): 13,
        ("lines", 0, "ends", 1, "k"): 14,
        ("lines", 0, "ends", 1, "deep"): 15,
        ("lines", 1): 16,
        ("lines", 1, "ends", 0, "k", "m"): 18,
    }
    found = positions.lines_of(text)
    assert {path: found.get(path) for path in wanted} == wanted


def test_an_entry_the_file_does_not_hold_has_no_line() -> None:
    text = RIG + '[[equipment.cables]]\nid = "c"\n'
    assert positions.line_of(("equipment", "cables", 7, "cores"), positions.lines_of(text)) is None
