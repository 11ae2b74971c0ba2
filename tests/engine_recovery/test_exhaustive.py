"""The search against every plan there is, on small rigs: all moves in all orders, each rig judged by `assess` alone."""

from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from rackwright.engine.assess import assess
from rackwright.engine.recovery import apply, fail, recover
from rackwright.engine.recovery.planner import task_of

from .small import LINK, SPARE_DUO, every_plan, failures, rigs_to_break, worth

DEPTH = 2
WITHOUT_BOUND = 10**6

few = settings(max_examples=4)


@few
@given(st.data())
def test_the_best_plan_of_two_moves_is_that_of_an_exhaustive_search(data):
    """Where the search has no bound, and where it is bounded and calls what it found proven."""
    rig = data.draw(rigs_to_break(cabinets=2))
    names = data.draw(failures(rig))
    best = tuple(min(value for value, _ in every_plan(task_of(rig, names), DEPTH)))
    found = recover(rig, names, most=DEPTH, exact=WITHOUT_BOUND)
    assert tuple(found.best.rank) == best
    assert found.proven
    bounded = recover(rig, names, exact=0)
    assert not (bounded.proven and bounded.best.rank.moves <= DEPTH) or tuple(bounded.best.rank) == best


@given(st.data())
def test_plans_come_best_first_each_of_another_kind_and_worth_what_it_promises(data):
    """Reckoned anew from the rig it leads to; with that, no plan brings a stop that the broken rig hadn't."""
    rig = data.draw(rigs_to_break(cabinets=4))
    names = data.draw(failures(rig))
    plans, task = recover(rig, names).plans, task_of(rig, names)
    assert [plan.rank for plan in plans] == sorted(plan.rank for plan in plans)
    assert len({plan.kinds for plan in plans}) == len(plans)
    assert () in [plan.moves for plan in plans], "the last resort is told"
    for plan in plans:
        after = assess(apply(fail(rig, names), plan.moves))
        assert worth(task, after, len(plan.moves)) == tuple(plan.rank)


@few
@given(st.data())
def test_more_spares_never_make_the_best_plan_worse(data):
    rig = data.draw(rigs_to_break(cabinets=2))
    names = data.draw(failures(rig))
    more = replace(rig, spares=(replace(LINK, count=2), replace(SPARE_DUO, count=2)))
    best = recover(rig, names, most=DEPTH, exact=WITHOUT_BOUND).best
    assert recover(more, names, most=DEPTH, exact=WITHOUT_BOUND).best.rank <= best.rank
