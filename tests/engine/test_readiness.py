"""Whether a rig is ready for doors: what is open of each point."""

from msgspec.structs import replace

from rackwright.engine.assess import assess
from rackwright.engine.meter_check import checked
from rackwright.engine.readiness import readiness
from rackwright.model.night import Night, NightList, Step
from rackwright.model.readings import Reading
from rackwright.model.rig import Rig
from shipped import preset


def test_stops_unproved_lines_and_open_lists_are_what_is_left() -> None:
    done, to_do = Step(words="Mute A1", done=True), Step(words="Patch R1-1")
    night = Night(lists=(NightList(id="1", title="Spare in", steps=(done, to_do)),))
    stops, lines, lists = readiness(assess(replace(preset("faults"), night=(night,))))
    assert stops.told.startswith("3 stops, ")
    assert [told.split()[0] for told in stops.left] == ["TOP-R:", "A3.1:", "TOP-R.high:"]
    assert lines.left == ("not tested: C1–10",)
    assert lists.left == ("Spare in: 1 of 2 ticked",)


def test_nothing_is_left_of_a_rig_whose_pole_pairs_all_read_and_sound_as_expected() -> None:
    rig = preset("small-room")

    def read(rig: Rig, heard: bool) -> Rig:
        readings = [
            Reading(
                line=item.test.line,
                pair=item.test.pair,
                ohms=f"{item.test.expected.likely:.3g} ohm",
                heard="yes" if heard else "",
            )
            for item in checked(assess(rig).index)
        ]
        return replace(rig, readings=tuple(readings))

    measured, proved = (readiness(assess(read(rig, heard))) for heard in (False, True))
    assert [point.left for point in proved] == [(), (), ()]
    assert measured[1].left[0].startswith("not proved: ")
