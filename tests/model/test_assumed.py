"""Figures that may be assumed: which there are, what they are taken to be, and what is known stays as it is."""

from typing import get_args

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rackwright.model.assumed import assumable, assumption, completed, said
from rackwright.model.equipment import EQUIPMENT_KINDS, AmplifierModel, Assumable, Equipment
from rackwright.model.rules import check_equipment
from strategies import amplifier_models

NAMES = get_args(Assumable)


def test_what_a_file_may_list_is_what_the_table_of_fields_has_a_figure_for() -> None:
    assert {f.name for kind in EQUIPMENT_KINDS.values() for f in assumable(kind)} == {*NAMES}
    assert [field.name for field in assumable(AmplifierModel)] == [*NAMES]
    assert all(field.required for field in assumable(AmplifierModel))


@given(amplifier_models(), st.sets(st.sampled_from(NAMES)))
def test_what_is_known_stays_and_the_rest_makes_an_entry_that_keeps_to_the_rules(
    entry: AmplifierModel, unknown: set[str]
) -> None:
    given_ = {n: v for n, v in msgspec.structs.asdict(entry).items() if n not in unknown}
    made = AmplifierModel(**completed(AmplifierModel, given_))
    assert {n: getattr(made, n) for n in given_ if n != "assumed"} == {
        n: v for n, v in given_.items() if n != "assumed"
    }
    assert {*made.assumed} == unknown | {*entry.assumed}
    assert check_equipment(Equipment(amplifiers=(made,))) == ()
    assert completed(AmplifierModel, msgspec.structs.asdict(made)) == msgspec.structs.asdict(made)


@pytest.mark.parametrize("count", [1, 2, 8, 64])
def test_what_is_stated_for_each_is_so_many_times_that(count: int) -> None:
    fields = {field.name: field for field in assumable(AmplifierModel)}
    one = fields["idle_power"].kind.parse(assumption(fields["idle_power"], {"channels": 1})).value
    all_ = fields["idle_power"].kind.parse(assumption(fields["idle_power"], {"channels": count})).value
    assert all_ == pytest.approx(count * one)
    assert assumption(fields["gain"], {"channels": count}) == fields["gain"].assumed


@pytest.mark.parametrize("channels", [None, 0, -3, 1e9, "two", True])
def test_a_count_that_is_none_leaves_the_figure_for_one(channels: object) -> None:
    (idle,) = (field for field in assumable(AmplifierModel) if field.name == "idle_power")
    assert idle.kind.parse(assumption(idle, {"channels": channels})).value == 50


@given(amplifier_models())
def test_every_assumed_figure_is_said_with_its_value_and_no_other(entry: AmplifierModel) -> None:
    told = said(entry)
    assert bool(told) is bool(entry.assumed)
    for name in NAMES:
        assert (name.replace("_", " ") in told) is (name in entry.assumed)
