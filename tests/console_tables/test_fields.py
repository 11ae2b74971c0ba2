"""Fields of a data sheet: what is written is read back as it was, and what can't be read is refused in words."""

from typing import get_args

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from rackwright.console.commands.papers import Folder
from rackwright.console.forms.equipment_sheets import section_sheet, sheet, wiring_sheet
from rackwright.console.forms.fields import Damping, Known, Parts, Poles, Ratings, Span, asked, lengths_to
from rackwright.console.widgets.fields import Choice, FieldError, Measure, Names, Words
from rackwright.model.equipment import (
    EQUIPMENT_KINDS,
    AmplifierModel,
    Assumable,
    DampingRating,
    Driver,
    Equipment,
    EquipmentEntry,
    Rating,
    equipment_kind,
)
from rackwright.model.racks import Rack
from rackwright.store.library import built_in
from rackwright.units import (
    Frequency,
    Impedance,
    Length,
    Level,
    LimiterSetting,
    Power,
    ResidualCurrent,
    Temperature,
    Voltage,
)
from strategies import amplifier_models

ENTRIES = built_in().entries()
RATINGS = Ratings("ratings", "Rated power")
powers = st.sampled_from(
    [Power.parse(text) for text in ("1100 W", "1.1 kW", "1,1 kW", "0.5kW", "2 kilowatt")]
)
loads = st.sampled_from([Impedance.parse(text) for text in ("8 ohm", "4Ω", "4R7", "2,7 ohm", "16 ohms")])


def through_its_form(entry: EquipmentEntry, known: Equipment) -> EquipmentEntry:
    """The entry that comes of opening its form and applying it untouched."""
    form = sheet(equipment_kind(entry), entry, known)
    fields = [field.after(form.values[field.name]) for field in form.fields]
    return form.build({field.name: field.read(field.write(form.values[field.name])) for field in fields})


@pytest.mark.parametrize("entry", ENTRIES, ids=lambda entry: entry.id)
def test_an_entry_comes_out_of_its_untouched_form_as_it_was(entry: EquipmentEntry) -> None:
    assert through_its_form(entry, built_in()) == entry


@pytest.mark.parametrize("kind", EQUIPMENT_KINDS)
def test_a_form_asks_for_every_key_of_the_rig_file(kind: str) -> None:
    asked = {field.name for field in sheet(kind, None, built_in()).fields}
    keys = {field.name for field in msgspec.structs.fields(type(getattr(built_in(), kind)[0]))}
    assert asked == keys - {"assumed"}


def test_the_form_of_a_section_asks_for_every_key_of_section_and_driver() -> None:
    asked = {field.name for field in section_sheet(None).fields}
    section = built_in().loudspeakers[0].sections[0]
    keys = {field.name for kind in (type(section), Driver) for field in msgspec.structs.fields(kind)}
    assert asked == keys - {"driver"}


@given(st.lists(st.builds(Rating, load=loads, power=powers), min_size=1, max_size=5))
def test_ratings_are_read_as_they_are_written(ratings: list[Rating]) -> None:
    assert RATINGS.after(tuple(ratings)).read(RATINGS.write(ratings)) == tuple(ratings)


@pytest.mark.parametrize(
    "text",
    ["1100 W at 8 ohm, 1800 W at 4 ohm", "1100W@8ohm;1800W@4ohm", "1,1 kW into 8 Ω,1.8 kW INTO 4 Ω", "1100 W at 8 ohm,1800 W at 4 ohm,",
     "1100@8, 1800@4", "1100@8,1800@4", "1100@8 1800@4", "1100 W 8 ohm, 1800 W 4 ohm", "8 Ω: 1 100 W, 4 Ω: 1 800 W", "1100 W / 8 Ω; 1.8 kW / 4 Ω",
     "8ohm 1100w, 4ohm 1800w", "2x1100 W at 8 Ω, 2 × 1800 W at 4 Ω", "8 Ω 1100 W 4 Ω 1800 W", "1100 W RMS at 8 Ω / 1800 W RMS at 4 Ω",
     "1100W/8Ω 1800W/4Ω", "2x1100@8 2x1800@4", "1100 W/ch into 8 Ω, 1800 W per channel into 4 Ω"],
)  # fmt: skip
def test_ratings_can_be_typed_any_way_a_person_types_them(text: str) -> None:
    found = [part.value for rating in RATINGS.read(text) for part in (rating.power, rating.load)]
    assert found == pytest.approx([1100, 8, 1800, 4])


@pytest.mark.parametrize(
    "text", ["1100 W", "1100", "1100 8", "1100 W at 8 ohm at 4 ohm", ",", "8/4 Ω 1100/1800 W"]
)
def test_ratings_that_are_none_are_refused_with_an_example(text: str) -> None:
    with pytest.raises(FieldError, match="such as"):
        RATINGS.read(text)


@pytest.mark.parametrize(
    ("kind", "typed", "told"),
    [(ResidualCurrent, "1 mA", ""), (Temperature, "20 degC", ""), (Temperature, "68 degF", "= 20 °C"), (Length, "80 ft", "= 24.38 m"),
     (Length, "25", "= 25 m"), (Power, "1.2 kW", ""), (Length, "2,5 m", "= 2.5 m"), (Impedance, "4R7", "= 4.7 Ω"),
     (Frequency, "1.6k", "= 1600 Hz"), (Frequency, ".8k", "= 800 Hz"), (Frequency, "18k", "= 18 kHz"), (Frequency, "90hz", "= 90 Hz"),
     (Frequency, "1.6 kHz", ""), (Power, "1.2k", "= 1200 W"), (Length, ".8", "= 0.8 m"), (Length, ".8 m", "= 0.8 m"),
     (Length, "80 cm", ""), (Impedance, "8ohm", ""), (LimiterSetting, "10dBu", ""), (LimiterSetting, "56V", "")],
)  # fmt: skip
def test_a_quantity_is_echoed_only_where_that_says_something(kind: type, typed: str, told: str) -> None:
    """What is typed short is read back whole; k is 10³ (SI brochure, 9th edition, table 7)."""
    assert Measure("it", "It", kind).note(typed) == told


SEVERAL = lengths_to(("A", "B"), Measure("length", "Length", Length))


@pytest.mark.parametrize(
    ("text", "lengths"),
    [("12 18", [12, 18]), ("12  18,5", [12, 18.5]), ("12,5 18", [12.5, 18]), ("12, 18", [12, 18]), ("12,18", [12, 18]),
     ("12 m, 18 m", [12, 18]), ("25 m", [25, 25]), ("25", [25, 25]), ("12;18", [12, 18]), ("25 120", [25, 120])],
)  # fmt: skip
def test_lengths_are_listed_with_blanks_as_well_as_commas(text: str, lengths: list[float]) -> None:
    assert [length.value for length in SEVERAL.read(text)] == lengths


@pytest.mark.parametrize("text", ["1 500", "12 18 m", "12 18 20", "12 m 18"])
def test_a_blank_that_may_part_thousands_parts_no_lengths_and_the_refusal_shows_a_list(text: str) -> None:
    with pytest.raises(FieldError, match="One for all, or 2 such as 12, 18"):
        SEVERAL.read(text)


def test_ids_are_listed_with_blanks_as_well_as_commas() -> None:
    field = Names("reaches", "Reaches", "circuit", ("P1", "P2", "P3"))
    assert field.read("P1 P2, P3") == field.read("P1,P2;P3") == ("P1", "P2", "P3")
    assert field.read("") == field.read(" , ") == ()


def test_bridged_ratings_may_be_left_out() -> None:
    rated, bridged = (
        field
        for field in sheet("amplifiers", None, built_in()).fields
        if field.name in ("ratings", "bridged")
    )
    assert bridged.read(" ") is None
    assert "not stated" in bridged.note("")
    with pytest.raises(FieldError, match="needed"):
        rated.read(" ")


def test_a_figure_of_an_amplifier_says_what_it_is_needed_for() -> None:
    told = {}
    for field in sheet("amplifiers", None, built_in()).fields:
        try:
            field.read("")
        except FieldError as error:
            told[field.name] = str(error)
    assert told["damping_factor"] == "needed for damping"
    assert told["ratings"] == "needed"
    notes = {
        field.name: field.note("") for field in sheet("amplifiers", None, built_in()).fields if field.assumed
    }
    assert notes["inrush"] == "used for switching on"
    assert notes["efficiency"] == notes["idle_power"] == "used for circuits"
    assert not notes.keys() & told.keys()


def test_three_ratings_have_room_on_a_line_of_a_form() -> None:
    told = "1100 W at 8 Ω, 1800 W at 4 Ω, 2600 W at 2 Ω"
    assert RATINGS.text(RATINGS.parse("1100 W at 8 ohm, 1800 W at 4 ohm, 2600 W at 2 ohm")) == told
    assert len(told) < 45


@given(st.floats(1, 1e5), loads)
def test_a_damping_factor_is_read_as_it_is_written(value: float, load: Impedance) -> None:
    field, rating = Damping("damping_factor", "Damping factor"), DampingRating(value=value, load=load)
    assert field.after(rating).read(field.write(rating)) == rating


names = st.text("abcdefgh-0123", min_size=1, max_size=6).filter(lambda name: not name.startswith("-"))
pairs = st.lists(st.lists(names, max_size=3, unique=True).map(tuple), min_size=1, max_size=4).map(tuple)


@given(pairs.filter(any))
def test_a_wiring_is_read_as_it_is_written(wiring: tuple[tuple[str, ...], ...]) -> None:
    field = Poles("poles", "Pole pairs")
    assert field.read(field.write(wiring)) == wiring


def test_a_wiring_leaves_a_pole_pair_out_with_a_stroke_or_with_nothing() -> None:
    field = Poles("poles", "Pole pairs")
    assert field.read("-/woofer") == field.read(" / woofer") == ((), ("woofer",))
    with pytest.raises(FieldError, match="upper / lower"):
        field.read(" - / - ")


def test_a_driver_that_lacks_figures_is_refused_and_one_with_no_box_is_left_out() -> None:
    section = built_in().loudspeakers[0].sections[0]
    form = section_sheet(section)
    values = {field.name: field.read(field.write(form.values[field.name])) for field in form.fields}
    with pytest.raises(FieldError, match="needs Mechanical Q, Qms; Inductance, Le"):
        form.build({**values, "qms": None, "le": None})
    with pytest.raises(FieldError, match="tuning fb"):
        form.build({**values, "fb": None})
    unstated = {**values, "box": "not stated"}
    assert form.build(unstated) == msgspec.structs.replace(section, driver=None)
    assert "left out" in form.remark(unstated)


def test_a_wiring_of_more_pole_pairs_than_the_connector_has_is_refused() -> None:
    speaker = built_in().loudspeakers[0]
    others = {"id": speaker.id, "connector": "2-pole", "sections": speaker.sections}
    with pytest.raises(FieldError, match="uses 2 pole pairs and 2-pole has 1"):
        wiring_sheet(None, others, built_in()).build({"name": "split", "poles": (("upper",), ("lower",))})


def test_what_must_be_filled_in_says_so() -> None:
    height = next(field for field in sheet("amplifiers", None, built_in()).fields if field.name == "height")
    with pytest.raises(FieldError, match="needed"):
        height.read("")


OWN = built_in().amplifiers[0]
SOME = amplifier_models().map(
    lambda drawn: replace(
        OWN, assumed=drawn.assumed, **{name: getattr(drawn, name) for name in get_args(Assumable)}
    )
)
"""With any figures, of which any are assumed."""


@given(SOME, st.sets(st.sampled_from(get_args(Assumable))))
def test_a_figure_typed_is_known_and_one_emptied_is_assumed(entry: AmplifierModel, emptied: set[str]) -> None:
    """Whichever were assumed before: typed in full, with these left empty."""
    form = sheet("amplifiers", entry, built_in())
    typed = {field.name: field.write(getattr(entry, field.name)) for field in form.fields}
    texts = typed | dict.fromkeys(emptied, "")
    fields = [field.after(getattr(entry, field.name)) for field in form.fields]
    built = form.build({field.name: field.read(texts[field.name]) for field in fields})
    assert {*built.assumed} == emptied
    assert [getattr(built, name) for name in typed if name not in emptied] == [
        getattr(entry, name) for name in typed if name not in emptied
    ]


@given(SOME)
def test_an_entry_with_assumed_figures_comes_out_of_its_untouched_form_as_it_was(
    entry: AmplifierModel,
) -> None:
    assert through_its_form(entry, built_in()) == entry


def test_an_assumed_figure_for_each_channel_follows_their_number_and_one_of_ones_own_stays() -> None:
    two = sheet("amplifiers", None, built_in()).build(
        {**dict.fromkeys(get_args(Assumable)), "id": "x", "channels": 2, "height": 1, "ratings": OWN.ratings,
         "damping_factor": OWN.damping_factor, "terminals": "exposed"}
    )  # fmt: skip
    assert two.idle_power.text == "100 W"
    form = sheet("amplifiers", replace(two, gain=Level.parse("26 dB")), built_in())
    told = {field.name: field.assumed for field in form.fields}
    assert (told["gain"], told["idle_power"]) == ("26 dB", "50 W/channel")
    four = form.build({**form.values, "channels": 4})
    assert (four.gain.text, four.idle_power.text, {*four.assumed}) == ("26 dB", "200 W", {*two.assumed})


@pytest.mark.parametrize("kind", sorted(EQUIPMENT_KINDS))
def test_each_field_of_new_equipment_has_an_example_that_it_takes(kind: str) -> None:
    section = section_sheet(None).fields if kind == "loudspeakers" else ()
    typed = (
        field
        for field in (*sheet(kind, None, built_in()).fields, *section)
        if not isinstance(field, Choice | Parts)
    )
    for field in typed:
        assert field.example, field.label
        field.read(field.example)


def test_a_list_of_ids_names_what_is_unknown_and_left_empty_is_none() -> None:
    (field,) = asked(Rack, "reaches", reaches=Known("circuit", ("P1", "P2")))
    assert field.read(" P2 , P1, P2") == ("P2", "P1")
    assert field.read("") == ()
    with pytest.raises(FieldError, match='There is no circuit "P9"'):
        field.read("P1, P9")


def test_a_folder_of_a_user_that_is_not_there_is_refused_in_words() -> None:
    with pytest.raises(FieldError, match="~no-such-user/papers is in the folder of a user that is not here"):
        Folder("folder", "Folder").read("~no-such-user/papers")


@pytest.mark.parametrize(
    ("typed", "ends"),
    [("35-90", (35, 90)), ("35 90", (35, 90)), ("35–90 Hz", (35, 90)), ("35 Hz to 90 Hz", (35, 90)), ("90-1.6k", (90, 1600)),
     ("1.6-18k", (1600, 18000)), ("1.6–18 kHz", (1600, 18000)), ("1,6k 18k", (1600, 18000)), ("90–1 600 Hz", (90, 1600)),
     ("20-20k", (20, 20000)), ("-1.6k", (40, 1600)), ("80-", (80, 120))],
)  # fmt: skip
def test_a_band_can_be_typed_any_way_a_person_types_it(typed: str, ends: tuple[float, float]) -> None:
    was = Frequency.parse("40 Hz"), Frequency.parse("120 Hz")
    band = Span("band", "Band", Frequency, example="35-90").after(was)
    assert tuple(end.value for end in band.read(typed)) == ends
    assert band.after(band.read(typed)).read(band.text(band.read(typed))) == band.read(typed)


def test_a_band_that_is_typed_short_is_read_back_whole() -> None:
    band = Span("band", "Band", Frequency, example="35-90")
    assert band.note("1.6-18k") == "= 1600 Hz to 18 kHz"
    assert band.note("35 Hz to 90 Hz") == ""


@pytest.mark.parametrize("typed", ["35", "-", "35 to 90 to 100", "35-ninety"])
def test_what_is_no_band_is_refused_with_an_example(typed: str) -> None:
    band = Span("band", "Band", Frequency, example="35-90")
    with pytest.raises(FieldError, match="such as"):
        band.read(typed)
    with pytest.raises(FieldError, match="100 to 240 V"):
        Span("mains", "Mains", Voltage, example="100 to 240 V").read("-240")


@given(st.text())
def test_notes_left_as_they_were_stay_so_and_end_with_their_last_line(was: str) -> None:
    notes = Words("notes", "Notes", lines=4).after(was)
    assert notes.read(notes.write(was)) == was
    assert notes.write(f"{was}\n") == was
    assert notes.read(f"{was} more") == f"{was} more"
