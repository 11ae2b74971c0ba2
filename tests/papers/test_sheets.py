"""What the sheets say, held against the rig they were made from: every plug has one place to go."""

import itertools
import re
from collections import Counter
from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from rackwright.engine import cautions, outage, protection, recovery
from rackwright.engine.assess import assess
from rackwright.engine.meter_check import pair_tests
from rackwright.engine.recovery import fail, recover
from rackwright.model import edits
from rackwright.model.lines import Stock
from rackwright.model.racks import PeakScale
from rackwright.model.rig import Rig
from rackwright.model.stock import Wanted, pull
from rackwright.papers.contents import ALL, sheets
from rackwright.papers.document import PageBreak, Sheet, Table, Words
from rackwright.papers.lines import line_sheet, pole_at, walk
from rackwright.units import ApparentPower, Current, Length, LimiterSetting, Power, short
from shipped import preset
from strategies import rigs

PRESETS = ("small-room", "hall", "outdoor-stage", "faults")


@pytest.fixture(params=PRESETS)
def rig(request: pytest.FixtureRequest) -> Rig:
    return preset(request.param)


def _sheet(rig: Rig, name: str) -> Sheet:
    return sheets(assess(rig), (), (name,))[0]


def _rows(sheet: Sheet, head: str) -> Iterator[dict[str, str]]:
    """The rows of the tables with a column of that head."""
    for table in sheet.tables():
        if head in table.heads:
            yield from (dict(zip(table.heads, row, strict=True)) for row in table.rows)


def test_every_pole_pair_of_every_socket_stands_once_in_the_patch(rig: Rig) -> None:
    connectors = {entry.id: entry for entry in rig.equipment.connectors}
    told = [(row["socket"], row["pair"], row["channel"]) for row in _rows(_sheet(rig, "patch"), "socket")]
    expected = [
        (socket.id, str(pair + 1), poles[pair] if pair < len(poles) and poles[pair] else "not wired")
        for socket in rig.sockets()
        for poles in (tuple(text.lstrip("-") for text in socket.poles),)
        for pair in range(connectors[socket.connector].pole_pairs)
    ]
    assert [(s, p, re.sub(" (bridged|STOP:|FAILED).*", "", c)) for s, p, c in told] == expected


def test_the_patch_says_in_which_units_the_amplifier_is_and_of_another_rack_in_which() -> None:
    small = preset("small-room")
    (rack,) = small.racks
    other = replace(rack, id="R9", name="", amplifiers=(), sockets=(replace(rack.sockets[0], id="R9-1"),))
    rows = list(_rows(_sheet(replace(small, racks=(rack, other)), "patch"), "socket"))
    units = {(row["channel"].partition(".")[0], row["socket"]): (row["unit"], row["model"]) for row in rows}
    for amplifier in rack.amplifiers:
        (model,) = (each for each in small.equipment.amplifiers if each.id == amplifier.model)
        ends = dict.fromkeys((amplifier.unit, amplifier.unit + model.height - 1))
        told = {at for (name, socket), at in units.items() if name == amplifier.id and socket != "R9-1"}
        assert told == {("–".join(map(str, ends)), model.id)}
    assert units["A1", "R9-1"][0] == f"{rack.id} unit {units['A1', 'R1-1'][0]}"


def test_a_reversed_pole_pair_is_told_as_reversed(rig: Rig) -> None:
    reversed_ = {
        (s.id, str(p + 1)) for s in rig.sockets() for p, t in enumerate(s.poles) if t.startswith("-")
    }
    told = {
        (r["socket"], r["pair"]) for r in _rows(_sheet(rig, "patch"), "socket") if r["polarity"] == "REVERSED"
    }
    assert told == reversed_


def test_each_end_of_every_line_has_one_label_and_one_row(rig: Rig) -> None:
    ends = Counter((line.id, place) for line in rig.lines for place in (line.source, line.to))
    rows = list(_rows(_sheet(rig, "lines"), "on each pole pair"))
    assert (
        Counter((r["line"], r[end].removeprefix("link of ")) for r in rows for end in ("from", "to")) == ends
    )
    labels = list(_rows(_sheet(rig, "labels"), "plug into"))
    assert Counter((r["line"], r["plug into"].removeprefix("link of ")) for r in labels) == ends
    assert Counter(r["end"] for r in labels) == {"near end": len(rig.lines), "far end": len(rig.lines)}


@given(rigs())
def test_every_plug_of_any_rig_has_one_row_on_one_sheet_of_each_kind(rig: Rig) -> None:
    """Near and far plug of each line, pole pair of each socket, cabinet; ids as they are drawn, marks behind them."""
    assessment = assess(rig)
    rows = {
        (name, head): list(_rows(sheets(assessment, (), (name,))[0], head))
        for name, head in (
            ("lines", "on each pole pair"),
            ("lines", "cabinet"),
            ("labels", "plug into"),
            ("patch", "pair"),
            ("meter", "reading"),
            ("pull", "for"),
        )
    }
    assert Counter(row["line"] for row in rows["lines", "on each pole pair"]) == Counter(
        line.id for line in rig.lines
    )
    assert Counter((row["line"], row["end"]) for row in rows["labels", "plug into"]) == Counter(
        (line.id, end) for line in rig.lines for end in ("near end", "far end")
    )
    for line in rig.lines:
        ends = {row["end"]: row["plug into"] for row in rows["labels", "plug into"] if row["line"] == line.id}
        assert ends["near end"].removeprefix("link of ") == line.source
        assert ends["far end"] == line.to
    assert Counter(row["cabinet"].partition(" ")[0] for row in rows["lines", "cabinet"]) == Counter(
        cabinet.id for cabinet in rig.cabinets
    )
    pairs = {model.id: model.pole_pairs for model in rig.equipment.connectors}
    assert Counter((row["socket"], row["pair"]) for row in rows["patch", "pair"]) == Counter(
        (socket.id, f"{n + 1}") for socket in rig.sockets() for n in range(pairs[socket.connector])
    )
    assert Counter((row["line"], row["pair"]) for row in rows["meter", "reading"]) == Counter(
        (test.line, f"{test.pair}") for test in pair_tests(assessment.index)
    )
    cables = {model.id for model in rig.equipment.cables}
    pulled = [row for row in rows["pull", "for"] if row["cable"] in cables]  # what is short too; no adaptors
    spares = sum(spare.count for spare in rig.spares if spare.cable)
    assert sum(int(row.get("pull") or row["missing"]) for row in pulled) == len(rig.lines) + spares


def test_every_cabinet_stands_once_with_the_line_that_feeds_it(rig: Rig) -> None:
    told = {
        r["cabinet"].removesuffix(" MUTED"): r["line in"].partition(" ")[0]
        for r in _rows(_sheet(rig, "lines"), "cabinet")
    }
    assert told == {
        cabinet.id: next(line.id for line in rig.lines if line.to == cabinet.id) for cabinet in rig.cabinets
    }


@given(rigs())
def test_any_rig_has_all_its_sheets_and_they_say_of_a_pair_what_the_engine_drives_there(rig: Rig) -> None:
    """The engine goes from the channel outward, the sheet from the plug back: both must meet."""
    assessment = assess(rig)
    index = assessment.index
    made = sheets(assessment, ())
    names = {sheet.name for sheet in made}
    assert {*ALL} - names <= {"page", "night", "stage"}
    assert ("night" in names) == bool(rig.lists or any(outage.marked(rig)))
    assert all(
        len(row) == len(table.heads) for sheet in made for table in sheet.tables() for row in table.rows
    )
    assert sorted(line.id for line in walk(index)) == sorted(line.id for line in rig.lines)
    for name, runs in assessment.runs.items():
        for run in runs:
            pole = pole_at(index, index.lines[name], run.far - 1)
            assert pole is not None
            assert pole.name == run.channel or assessment.branches[pole.name].second_of_bridge


def test_a_muted_cabinet_is_told_where_its_plug_would_go(rig: Rig) -> None:

    first = rig.cabinets[0]
    muted = replace(rig, cabinets=(replace(first, muted=True), *rig.cabinets[1:]))
    row = next(r for r in _rows(line_sheet(assess(muted), ()), "to") if r["to"] == first.id)
    assert f"MUTED: don't plug into {first.id}" in row["on each pole pair"]


def test_a_failed_circuit_is_told_and_switches_nothing_on(rig: Rig) -> None:
    circuit = next(amplifier.circuit for amplifier in rig.amplifiers() if amplifier.circuit)
    sheet = _sheet(fail(rig, [circuit]), "mains")
    named = {row["circuit"] for row in _rows(sheet, "circuit") if row["circuit"].split()[0] == circuit}
    steps = {row["circuit"] for row in _rows(sheet, "step")}
    assert named
    assert all(words.startswith(f"{circuit} FAILED") for words in named)
    assert not {name for name in steps if name.split()[0] == circuit}
    on_it = [amplifier.id for amplifier in rig.amplifiers() if amplifier.circuit == circuit]
    (told,) = [
        block.text for block in sheet.blocks if isinstance(block, Words) and "switch nothing on" in block.text
    ]
    assert all(name in told for name in on_it)


def test_the_walk_goes_by_rack_and_socket(rig: Rig) -> None:
    order = {socket.id: n for n, socket in enumerate(rig.sockets())}
    index = assess(rig).index
    starts = [order[index.root(line.id) or ""] for line in walk(index)]
    assert starts == sorted(starts)


def test_limiters_in_dbu_are_the_volts_before_the_gain() -> None:
    """0 dBu is 0.7746 V (IEC 60268-2 / common definition): V = 0.7746 · 10^((dBu + gain)/20)."""
    rows = list(_rows(_sheet(preset("hall"), "processor"), "set rms V"))
    assert len(rows) == len(preset("hall").feeds)
    for row in rows:
        for word in ("set rms", "set peak", "safe rms", "safe peak"):
            volts = 0.7746 * 10 ** ((float(row[f"{word} dBu"]) + float(row["gain dB"])) / 20)
            assert volts == pytest.approx(float(row[f"{word} V"]), rel=0.01)  # three digits are printed
    assert protection.input_level(0.7746, 0.0) == pytest.approx(0.0, abs=1e-3)


def test_a_peak_limiter_is_printed_as_the_processor_shows_it_and_its_scale_is_said() -> None:
    """The rms of a sine is its peak over √2: 3.01 dB between the scales (by definition)."""
    hall = preset("hall")
    for scale, other, apart in (("sine", "peak", 3.01), ("peak", "sine", -3.01)):
        feeds = [
            replace(f, limiter_peak=LimiterSetting.parse("9 dBu"), limiter_peak_scale=scale)
            for f in hall.feeds
        ]
        for row in _rows(_sheet(replace(hall, feeds=feeds), "processor"), "set rms V"):
            assert row[f"set {scale} dBu"] == "9"
            assert float(row[f"set {other} dBu"]) == pytest.approx(9 + apart, abs=0.02)
        for name in ("processor", "page"):
            for row in _rows(_sheet(replace(hall, feeds=feeds), name), "peak read in"):
                assert (row["peak read in"], row["peak dBu"]) == (scale, "9")


# --- the pull list --------------------------------------------------------------------------------


def _metres(text: str) -> Length:
    return Length.parse(f"{text} m")


def _stock(**counts: int) -> list[Stock]:
    return [Stock(cable="two", length=_metres(name[1:]), count=count) for name, count in counts.items()]


def _needs(*lengths: int) -> list[Wanted]:
    return [Wanted("two", _metres(str(length)), f"L{n}") for n, length in enumerate(lengths, 1)]


def test_a_line_takes_the_shortest_stocked_cable_that_does() -> None:
    taken = pull(_needs(12, 7), _stock(_5=9, _10=9, _15=9, _20=9))
    assert [str(each.stocked) for each in taken] == ["15 m", "10 m"]


def test_a_longer_one_stands_in_and_what_is_missing_is_told() -> None:
    taken = pull(_needs(10, 10, 10), _stock(_10=1, _20=1))
    assert sorted(str(each.stocked) for each in taken) == ["10 m", "20 m", "None"]


def test_lines_go_before_spares() -> None:
    spare = Wanted("two", _metres("10"))
    taken = pull([spare, *_needs(5)], _stock(_10=1))
    assert [each.stocked is None for each in taken] == [True, False]


@given(st.lists(st.integers(1, 30), max_size=7), st.lists(st.integers(1, 30), max_size=7))
def test_no_choice_serves_more_lines(needs: list[int], owned: list[int]) -> None:
    """Against the largest matching that scipy finds (scipy.sparse.csgraph.maximum_bipartite_matching)."""
    import numpy as np
    from scipy.sparse import csr_array
    from scipy.sparse.csgraph import maximum_bipartite_matching

    counts = Counter(owned)
    taken = pull(_needs(*needs), _stock(**{f"_{length}": count for length, count in counts.items()}))
    served = sum(each.stocked is not None for each in taken)
    if not needs or not owned:
        assert served == 0
        return
    serves = np.array([[int(length >= need) for length in owned] for need in needs])
    matched = maximum_bipartite_matching(csr_array(serves), perm_type="column")
    assert served == int((matched >= 0).sum())
    used = Counter(str(each.stocked) for each in taken if each.stocked is not None)
    assert all(used[f"{length} m"] <= count for length, count in counts.items())


def test_the_sheet_counts_every_line_and_tells_the_shortfall() -> None:
    rig = preset("hall")
    stock = [Stock(cable="flex-4x2.5", length=_metres("15"), count=10)]
    sheet = next(s for s in sheets(assess(rig), stock, ("pull",)))
    pulled, short = (table for table in sheet.blocks if isinstance(table, Table))
    assert [row[:4] for row in pulled.rows] == [("flex-4x2.5", "15 m", "10", "10")]
    needed = len(rig.lines) + sum(spare.count for spare in rig.spares if spare.cable)
    assert sum(int(row[2]) for row in (*pulled.rows, *short.rows)) == needed


def test_the_truck_takes_every_spare_that_is_listed_and_says_how_many_are_spare() -> None:
    rig = preset("outdoor-stage")
    amplifier = next(spare for spare in rig.spares if spare.amplifier)
    rig = replace(rig, spares=(*rig.spares, amplifier))
    rows = {row["model"]: row for row in _rows(_sheet(rig, "equipment"), "model")}
    spare = Counter(dict.fromkeys(rows, 0))
    for each in rig.spares:
        spare[each.amplifier or each.cable] += each.count
    used = Counter([a.model for a in rig.amplifiers()] + [line.cable for line in rig.lines])
    for model, row in rows.items():
        assert row["spare"] == (str(spare[model]) if spare[model] else "–"), model
        if model in used:
            assert int(row["in all"]) == used[model] + spare[model]


def _failing(told: str) -> list[str]:
    """What a row of a door is for, each by itself: `channels A1.1, A1.2` are `channel A1.1` and `channel A1.2`."""
    kind, _, names = told.partition(" ")
    return [f"{kind.removesuffix('s')} {name}" for name in names.split(", ")]


def test_failures_of_a_kind_with_one_plan_take_one_row_of_the_door() -> None:
    """Of the hall's A1, each channel's first plan is to replace the amplifier."""
    (sheet,) = sheets(assess(preset("hall")), (), ["door"])
    rows = [row for table in sheet.tables() for row in table.rows]
    assert "channels A1.1, A1.2, A1.3, A1.4" in [row[0] for row in rows]
    for above, below in itertools.pairwise(rows):
        kinds = {row[0].partition(" ")[0].removesuffix("s") for row in (above, below)}
        assert len(kinds) > 1 or above[1:] != below[1:]


def test_each_rack_s_door_says_what_to_do_if_something_of_it_fails() -> None:
    rig = preset("small-room")
    (sheet,) = sheets(assess(rig), (), ["door"])
    told = {
        table.part[1]: {name: (name, *row[1:]) for row in table.rows for name in _failing(row[0])}
        for table in sheet.tables()
        if table.part
    }
    assert told.keys() == {rack.id for rack in rig.racks}
    for rack in rig.racks:
        for amplifier in rack.amplifiers:
            plan = recover(rig, [amplifier.id], proof=False).best
            (_name, do, time, silent) = told[rack.id][f"amplifier {amplifier.id}"]
            assert do.startswith(plan.first)
            assert time == (f"{plan.seconds:.0f} s" if plan.moves else "–")
            assert bool(plan.silent) == (silent != "–")
    assert any(block.caution for block in sheet.blocks if isinstance(block, Words))
    assert sheet.blocks.count(PageBreak(front=True)) == len(rig.racks)


def _said_again(told: str) -> list[str]:
    """Each move with its verb again: of `Unplug C1, C2; trim A1.1 to 0 dB` three."""
    return [
        f"{verb.capitalize()} {move}"
        for verb, _, moves in (part.partition(" ") for part in told.split("; "))
        for move in moves.split(", ")
    ]


def test_the_back_of_a_door_tells_each_plan_whole() -> None:
    now = assess(preset("faults"))
    (sheet,) = sheets(now, (), ["door"])
    told = {
        table.part[1]: [(name, *row[1:]) for row in table.rows for name in _failing(row[0])]
        for table in sheet.tables()
        if table.part
    }
    longest = 0
    for rack, failures in recovery.by_rack(now).items():
        for failure, (name, do, _time, silent) in zip(failures, told[rack], strict=True):
            assert name == f"{failure.kind} {failure.name}"
            moves = list(map(recovery.short, failure.plan.moves))
            assert _said_again(do) == moves or not moves
            assert {section.partition(".")[0] for section in failure.plan.silent} <= {
                *re.split(", | and ", silent)
            }
            longest = max(longest, len(moves))
    assert longest > 6


def test_the_mains_sheet_has_each_board_and_cable_and_room_for_what_is_tested() -> None:
    rig = preset("outdoor-stage")
    tables = {block.name: block for block in _sheet(rig, "mains").blocks if isinstance(block, Table)}
    assert [row[0] for row in tables["boards"].rows] == ["intake", *(board.id for board in rig.boards)]
    now = assess(rig)
    intake = dict(zip(tables["boards"].heads, tables["boards"].rows[0], strict=True))
    for phase in now.phases.values():
        assert intake[f"{phase.id} A"] == f"{short(phase.programme_current)}/{short(phase.heavy_current)}"
    guarded = dict(zip((c.id for c in rig.circuits), tables["circuits"].rows, strict=True))
    for circuit in rig.circuits:
        told = guarded[circuit.id][tables["circuits"].heads.index("RCD leaks mA")]
        assert told.endswith(" of 30"), circuit.id
    own, first = rig.circuits[0], rig.boards[0]
    shared = edits.change(edits.change(rig, first.id, rcd=own.rcd), own.id, rcd=None)
    assert next(_rows(_sheet(shared, "mains"), "circuit"))["RCD leaks mA"] == "at D1"
    places = [thing.id for thing in (*rig.boards, *rig.circuits)]
    assert [row[0] for row in tables["cables"].rows] == places
    for *_, breaker, carries, earth, neutral, at_once in tables["cables"].rows:
        curve, rated, _ = breaker.split()
        assert float(rated) <= float(carries)
        assert float(earth) == float(neutral)
        # Where each curve's band of instantaneous tripping ends: IEC 60898-1, from memory.
        assert float(at_once) == {"B": 5, "C": 10, "D": 20}[curve] * float(rated)
    assert [row[0] for row in tables["record"].rows] == ["intake", *places]
    assert {
        "measured A",
        "RCD trips, ms",
        "earth",
        "loop Ω",
        "insulation",
        "polarity",
        "rotation",
        "V before",
    } <= tables["record"].written
    faults = {row[0]: float(row[6]) for row in tables["cables"].rows}
    for place, loop, *_ in tables["record"].rows[1:]:
        assert float(loop) * faults[place] == pytest.approx(0.95 * 230, rel=0.01), (
            "C_min of IEC 60909-0, from memory"
        )
    crossed = {row[0] for row in tables["record"].rows if row[tables["record"].heads.index("rotation")]}
    assert crossed == {"D3", *(circuit.id for circuit in rig.circuits)}, "one phase has no rotation"


def test_the_mains_sheet_tells_how_to_switch_off_and_to_wait_after_an_outage(rig: Rig) -> None:
    blocks = _sheet(rig, "mains").blocks
    order = next(
        n for n, block in enumerate(blocks) if isinstance(block, Table) and block.name == "switch-on"
    )
    after = blocks[order + 1]
    assert isinstance(after, Words)
    assert after.text.index("amplifiers first") < after.text.index("boards last")
    assert cautions.HOT_LIMITERS in after.text


def test_a_breaker_under_us_rules_is_named_without_a_curve() -> None:
    """UL 489 has no curves B, C and D, UL 943 names a GFCI, from memory; a rig file says nothing of one at the intake."""
    rig = preset("small-club")
    now = _sheet(rig, "mains")
    assert next(_rows(now, "fed from"))["rating"] == f"{rig.supply.rating}"
    assert [row["breaker"] for row in _rows(now, "on it")] == [f"{c.breaker}" for c in rig.circuits]
    assert not re.search(r"\b[BCD] \d+ A", repr(now)), "neither in the tree nor in any table"
    assert next(_rows(now, "fed from"))["GFCI leaks mA"] == "–"
    assert {"GFCI trips, ms"} <= next(table for table in now.tables() if table.name == "record").written


def test_the_mains_sheet_marks_what_is_over_80_percent_and_what_may_trip() -> None:
    rig = preset("outdoor-stage")
    rig = edits.change(rig, "CATERING", power=Power.parse("3 kW"))
    rig = edits.change(rig, "D1", curve="B", rating=Current.parse("40 A"))
    sheet = _sheet(rig, "mains")
    assert "P14 over 80 %" in {row["circuit"] for row in _rows(sheet, "drop %") if "circuit" in row}
    assert "D1 may trip all at once" in {row["place"] for row in _rows(sheet, "fed from")}


def test_the_mains_sheet_names_the_limit_that_a_generator_is_over() -> None:
    rig = preset("hall")
    small = replace(rig.supply, generator=ApparentPower.parse("8 kVA"))
    findings = {finding.code: finding for finding in assess(replace(rig, supply=small)).findings}
    assert findings["generator-near-limit"].limit.value == 1, "its whole rating, driven hard"
    told = {
        block.text for block in _sheet(replace(rig, supply=small), "mains").blocks if isinstance(block, Words)
    }
    assert any(text.startswith("Supply over 100 % driven hard") for text in told)


def test_a_stop_at_a_board_stands_at_it_and_at_its_circuits() -> None:
    rig = preset("outdoor-stage")
    full = replace(rig, boards=tuple(replace(b, rating=Current.parse("8 A")) for b in rig.boards))
    tables = {block.name: block for block in _sheet(full, "mains").blocks if isinstance(block, Table)}
    assert all("STOP: board overloaded" in row[0] for row in tables["boards"].rows[1:4])
    assert any("STOP: board overloaded" in row[0] for row in tables["circuits"].rows)


@pytest.mark.parametrize("name", ["cover", "page"])
def test_the_verdict_names_every_warning_and_where_it_stands(rig: Rig, name: str) -> None:
    named = {at for row in _rows(_sheet(rig, name), "at") for at in re.split(", | and ", row["at"])}
    assert named == {finding.at for finding in assess(rig).findings if finding.severity == "warn"}


def test_what_is_the_same_of_several_places_is_told_once(rig: Rig) -> None:
    told = [(row["what"], row["what to do"]) for row in _rows(_sheet(rig, "findings"), "severity")]
    assert len(set(told)) == len(told)
    named = {
        at for row in _rows(_sheet(rig, "findings"), "severity") for at in re.split(", | and ", row["at"])
    }
    assert named == {finding.at for finding in assess(rig).findings}


@pytest.mark.parametrize("scale", ["peak", "sine"])
@pytest.mark.parametrize("dbu", [9, 26])
def test_what_is_typed_into_the_processor_is_what_the_rig_says_or_else_the_highest_safe(
    scale: PeakScale, dbu: int
) -> None:
    """A sine of peak 1 has 1/√2 rms: 3.01 dB less. 9 dBu on a peak scale is typed as 9, whatever a sine would read."""
    rig, level = preset("hall"), LimiterSetting.parse(f"{dbu} dBu")
    feeds = [
        replace(f, limiter_peak=level, limiter_peak_scale=scale, limiter_rms=None) for f in rig.feeds[1:]
    ]
    unset = replace(rig.feeds[0], limiter_peak=None, limiter_peak_scale=scale, limiter_rms=None)
    sheet = _sheet(replace(rig, feeds=(unset, *feeds)), "processor")
    full = {(row["feed"], row["gain dB"]): row for row in _rows(sheet, "set rms dBu")}
    typed = {(row["feed"], row["gain dB"]): row for row in _rows(sheet, "peak read in")}
    assert typed.keys() == full.keys()
    for key, row in typed.items():
        safe = full[key][f"safe {scale} dBu"]
        highest = float(safe.replace("−", "-"))
        assert (row["peak dBu"], row["peak read in"]) == (safe if key[0] == unset.id else f"{dbu}", scale)
        assert ("peak highest, none is set" in row["note"]) == (key[0] == unset.id)
        assert row["rms dBu"] == full[key]["safe rms dBu"]
        assert "rms highest, none is set" in row["note"]
        over = key[0] != unset.id and highest < dbu
        assert (f"peak OVER {safe}, the highest safe" in row["note"]) == over
    assert dbu == 9 or any("OVER" in row["note"] for row in typed.values())


def test_a_stage_plan_is_drawn_where_anything_has_a_position_and_else_left_out_with_what_to_fill_in() -> None:
    rig = preset("small-room")
    bare = replace(rig, cabinets=tuple(replace(each, position="") for each in rig.cabinets))
    for of, drawn in ((rig, True), (bare, False)):
        made = {sheet.name: sheet for sheet in sheets(assess(of), ())}
        said = [block.text for block in made["cover"].blocks if isinstance(block, Words)]
        assert ("stage" in made) == drawn
        assert any("give each its position" in text for text in said) != drawn


def test_a_pole_pair_says_whether_its_cabinet_uses_it_or_a_link_leads_it_on() -> None:
    """Two subs in a chain, the first with both sections on pole pair 1, the second with one on each, or with both on 1, too."""

    def told(*joined: str) -> list[str]:
        rig = preset("faults")
        cabinets = [replace(c, wiring="joined") if c.id in joined else c for c in rig.cabinets]
        rows = _rows(_sheet(replace(rig, cabinets=tuple(cabinets)), "lines"), "on each pole pair")
        second = {
            row["line"]: row["on each pole pair"].split("; ")[1]
            for row in rows
            if row["line"] in ("C1", "C2")
        }
        return [text.rpartition("→")[2].replace("\u00a0", " ").strip() for text in second.values()]

    assert told() == ["lower", "lower"]
    assert told("SUB-L1") == ["on to C2", "lower"]
    assert told("SUB-L1", "SUB-L2") == ["not used", "not used"]


def test_no_sheet_has_the_syntax_of_a_file(rig: Rig) -> None:
    for sheet in sheets(assess(rig), (), ALL):
        texts = [block.text for block in sheet.written() if isinstance(block, Words)]
        cells = [cell for table in sheet.tables() for row in table.rows for cell in row]
        assert not [text for text in (*texts, *cells) if "[[" in text or ".toml" in text]
