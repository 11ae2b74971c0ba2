"""The meter-check sheet: what a meter should show on every pole pair, and room to write what it does show.

Its columns are those that `rackwright meter` reads, so that the sheet's CSV, filled in, is judged as it is.
"""

from collections.abc import Sequence

from rackwright.engine import cautions
from rackwright.engine.assess import Assessed
from rackwright.engine.meter_check import OPEN, Checked, checked, progress
from rackwright.model.rig import Rig
from rackwright.papers.document import Sheet, Table, Words
from rackwright.papers.lines import near_end, start_rack
from rackwright.papers.marks import Marks, flags, marked
from rackwright.papers.phrases import listed, rack_title
from rackwright.units import NOTHING, Temperature, figure
from rackwright.units.formatting import on_a_meter

KNOWN = ("line", "pair", "from", "should be heard", "expected", "limits")
WRITTEN = ("reading", "leads", "coil", "polarity", "heard", "note")
FOUND = ("when", "found")

CAUTION = Words(cautions.METER, True)
HOW = Words(
    "Measure at the near end of the line, its plug pulled, everything behind it plugged in. Then touch a small battery to "
    "one pole pair at a time, plus to plus, for a moment: polarity is yes where the cone moves out, or a polarity signal is read right, heard is yes where a driver "
    "of this pole pair clicks and no other. Write yes or no, or which other cabinet is heard; leave blank what was not tested."
)
COIL = (
    "Before anything has played leave coil blank. After a show write the temperature of the voice coils there: each 10 °C raises "
    "their reading by 4 %."
)
"""Copper, 0.393 % per kelvin: IEC 60028."""
LEADS = "Touch the meter's leads together first: they read"
BLANK = "__________"
TAKEN_OFF = (
    "Write under reading what the meter shows; subtract the leads before you compare it with the limits."
)


def meter_check_sheet(assessment: Assessed) -> Sheet:
    """Every pole pair of every line as the crew walks, with what was found where readings are kept in the rig."""
    index = assessment.index
    found = checked(index)
    measured = any(item.reading is not None or item.earlier is not None for item in found)
    racks = (*((rack.id, rack_title(rack)) for rack in index.rig.racks), ("", "From no socket"))
    tables = (
        _table(assessment, rack, title, found, measured)
        for rack, title in racks
        if any(start_rack(index, index.lines[item.test.line]) == rack for item in found)
    )
    so_far = (Words(f"{progress(found)}."),) if measured else ()
    doubts = (
        Words(f"{item.test.line} pole pair {item.test.pair}: {item.proof or item.drift}", bool(item.proof))
        for item in found
        if item.proof or item.drift
    )
    leads = Words(f"{LEADS} {_lead_resistance(found)} Ω. {TAKEN_OFF}")
    warm = Words(f"{coils(index.rig)}. {COIL}")
    return Sheet(
        name="meter", title="Meter check", blocks=(CAUTION, HOW, leads, warm, *so_far, *doubts, *tables)
    )


def _lead_resistance(found: Sequence[Checked]) -> str:
    """The one in Ω that all readings have, a blank to fill in where there is none or they differ."""
    kept = {item.reading.lead_resistance.value for item in found if item.reading is not None}
    return figure(kept.pop()) if len(kept) == 1 and any(kept) else BLANK


def _table(assessment: Assessed, rack: str, title: str, found: Sequence[Checked], measured: bool) -> Table:
    index, marks = assessment.index, Marks(assessment)
    rows = (
        (*_expected(assessment, marks, item), *written(item), *(_result(item) if measured else ()))
        for item in found
        if start_rack(index, index.lines[item.test.line]) == rack
    )
    return Table(
        heading=title,
        part=("rack", rack),
        heads=(*KNOWN, *WRITTEN, *(FOUND if measured else ())),
        rows=tuple(rows),
        right=frozenset({"expected"}),
        written=frozenset(WRITTEN),
        grouped=True,
    )


def _expected(assessment: Assessed, marks: Marks, item: Checked) -> tuple[str, ...]:
    index, test = assessment.index, item.test
    line = index.lines[test.line]
    ends = (marks.cabinet(line.to),)
    return (
        test.line,
        f"{test.pair}",
        marked(
            near_end(index, line),
            (*flags(index, line), *marks.stops(line), *(marked(line.to, found) for found in ends if found)),
        ),
        listed(test.sections),
        f"{test.expected}".replace(" ", "\u00a0"),
        limits(item),
    )


def limits(item: Checked) -> str:
    """What a meter may show, in Ω."""
    low, high = item.limits
    return "open" if low >= OPEN else f"{on_a_meter(low)} to {on_a_meter(high)} Ω".replace(" ", "\u00a0")


def coils(rig: Rig, hot: Temperature | None = None) -> str:
    """At which temperature what is expected holds."""
    air = rig.supply.ambient
    return (
        f"Expected with voice coils at {hot or air}, cables at {air}"
        if hot
        else f"Expected with voice coils and cables at {air}"
    )


def written(item: Checked) -> tuple[str, ...]:
    """What is written in so far, a cell for each of `WRITTEN`."""
    kept = item.reading
    if kept is None:
        return ("",) * len(WRITTEN)
    leads = kept.lead_resistance.text if kept.lead_resistance.value else ""
    coil = kept.coil_temperature.text if kept.coil_temperature is not None else ""
    return (kept.ohms, leads, coil, kept.polarity, ", ".join(kept.heard_from) or kept.heard, kept.note)


def _result(item: Checked) -> tuple[str, ...]:
    """When it was read, and what that says."""
    when = item.reading.when if item.reading else ""
    if item.earlier is not None:
        return (item.earlier.when, f"{item.earlier.ohms or 'tested'} before the line was changed: test again")
    if item.status == "not tested":
        return (when, NOTHING)
    if item.status == "wrong":
        return (when, f"WRONG: {item.verdict}")
    return (when, "NOT\u00a0PROVED" if item.proof else item.verdict)
