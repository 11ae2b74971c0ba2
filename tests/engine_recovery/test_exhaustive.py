"""The search against every plan there is, on small rigs: all moves in all orders, each rig judged by `assess` alone."""

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from rackwright.engine.assess import assess
from rackwright.engine.recovery import apply, fail, recover
from rackwright.engine.recovery.planner import task_of

from .small import LINK, SPARE_DUO, every_plan, failures, rigs_to_break, worth

DEPTH = 2
WITHOUT_BOUND = 10**6

few = settings(max_examples=6, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
sparing = settings(max_examples=12, suppress_health_check=[HealthCheck.too_slow])


@few
@given(st.data())
def test_the_best_plan_of_two_moves_is_that_of_an_exhaustive_search(data):
    rig = data.draw(rigs_to_break())
    names = data.draw(failures(rig))
    best = min(value for value, _ in every_plan(task_of(rig, names), DEPTH))
    found = recover(rig, names, most=DEPTH, exact=WITHOUT_BOUND)
    assert tuple(found.best.rank) == tuple(best)
    assert found.proven


@few
@given(st.data())
def test_what_is_called_proven_is_so_where_the_search_was_bounded(data):
    rig = data.draw(rigs_to_break())
    names = data.draw(failures(rig))
    found = recover(rig, names, exact=0)
    assume(found.proven and found.best.rank.moves <= DEPTH)
    best = min(value for value, _ in every_plan(task_of(rig, names), DEPTH))
    assert tuple(found.best.rank) == tuple(best)


@sparing
@given(st.data())
def test_each_plan_is_worth_what_it_promises(data):
    """Reckoned anew from the rig it leads to; with that, no plan brings a stop that the broken rig hadn't."""
    rig = data.draw(rigs_to_break(cabinets=4))
    names = data.draw(failures(rig))
    task = task_of(rig, names)
    for plan in recover(rig, names).plans:
        after = assess(apply(fail(rig, names), plan.moves))
        assert worth(task, after, len(plan.moves)) == tuple(plan.rank)


@sparing
@given(st.data())
def test_plans_come_best_first_and_each_of_another_kind(data):
    rig = data.draw(rigs_to_break(cabinets=4))
    plans = recover(rig, data.draw(failures(rig))).plans
    assert [plan.rank for plan in plans] == sorted(plan.rank for plan in plans)
    assert len({plan.kinds for plan in plans}) == len(plans)
    assert () in [plan.moves for plan in plans], "the last resort is told"


@few
@given(st.data())
def test_more_spares_never_make_the_best_plan_worse(data):
    rig = data.draw(rigs_to_break(cabinets=2))
    names = data.draw(failures(rig))
    more = replace(rig, spares=(replace(LINK, count=2), replace(SPARE_DUO, count=2)))
    best = recover(rig, names, most=DEPTH, exact=WITHOUT_BOUND).best
    assert recover(more, names, most=DEPTH, exact=WITHOUT_BOUND).best.rank <= best.rank
