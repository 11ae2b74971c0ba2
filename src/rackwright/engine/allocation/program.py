"""A mixed-integer programme, solved exactly for one criterion after the other, each fixed before the next.

Knows columns, rows and numbers; what they stand for is the caller's. Solved by HiGHS with no gap left; its limit is a count
of nodes, so that the same question has the same answer on any machine.
"""

import functools
import itertools
import math
import threading
from collections.abc import Callable, Iterable, Sequence
from typing import Any, NamedTuple, TypeAlias

import numpy as np

Terms: TypeAlias = Sequence[tuple[int, float]]
"""Columns with their factors; a column may come twice."""

NODES = 2_000
"""Of the search tree of one solve, at most."""

EXACT = 1e-9
"""By which the best sum of a solve may be missed."""

_FOR_LARGE = (1 << 12, 1 << 13, 1 << 14, 1 << 15)
"""Rules of the solver's presolve that cost a small programme a fifth of its time: aggregator, parallel rows and columns, sparsify,
probing."""

SLACK = 1e-6
"""By which a criterion that is fixed may be worse than its best: what rounding makes of it."""


class Solved(NamedTuple):
    """The best there is, or the best found."""

    value: float
    columns: tuple[float, ...]
    proven: bool
    """Whether no better one exists; False where the nodes ran out."""

    def on(self, column: int) -> bool:
        """Whether a column of 0 or 1 is 1."""
        return self.columns[column] > 0.5


class Program:
    """Columns and rows, to which more rows may be added between two solves."""

    def __init__(self, between: Callable[[], None] = lambda: None, small: bool = False) -> None:
        """`between` is called before each solve: what it raises ends the search. A `small` one is solved sooner without what the
        solver does to make a large one smaller."""
        self._between = between
        self._left_out = sum(_FOR_LARGE) if small else 0
        self._lows: list[float] = []
        self._highs: list[float] = []
        self._whole: list[bool] = []
        self._fixed: dict[int, float] = {}
        self._rows: list[_Row] = []
        self._in_arrays = _arrays(())
        """The rows, as far as they have been solved with."""

    def column(self, low: float = 0.0, high: float = 1.0, whole: bool = True) -> int:
        """A new column within those bounds, in whole numbers or not."""
        self._lows.append(low)
        self._highs.append(high)
        self._whole.append(whole)
        if low == high:
            self._fixed[len(self._lows) - 1] = low
        return len(self._lows) - 1

    def row(self, terms: Iterable[tuple[int, float]], low: float = -math.inf, high: float = math.inf) -> None:
        """A new row: the sum of the terms lies within those bounds."""
        if (row := self._row(terms, low, high)) is not None:
            self._rows.append(row)

    def _row(self, terms: Iterable[tuple[int, float]], low: float, high: float) -> "_Row | None":
        """Without what is fixed; None where it always holds."""
        summed, fixed = dict[int, float](), 0.0
        for column, factor in terms:
            if column in self._fixed:
                fixed += factor * self._fixed[column]
            else:
                summed[column] = summed.get(column, 0.0) + factor
        low, high = low - fixed, high - fixed
        return None if not summed and low <= EXACT and high >= -EXACT else (summed, low, high)

    def value(self, terms: Terms, columns: Sequence[float]) -> float:
        """The sum of terms at a solution."""
        return sum(factor * columns[column] for column, factor in terms)

    def forced(self) -> dict[int, list[int]]:
        """Column → those that a row alone makes 1 where it is 1."""
        found: dict[int, list[int]] = {}
        for terms, low, _ in self._rows:
            factors = list(terms.values()) if low == 0 else []
            if factors.count(1.0) == 1 and factors.count(-1.0) == len(factors) - 1 > 0:
                made = next(column for column, factor in terms.items() if factor > 0)
                for column in terms:
                    if column != made:
                        found.setdefault(column, []).append(made)
        return found

    def minimised(
        self,
        terms: Terms,
        more: Sequence[tuple[Terms, float]] = (),
        start: Sequence[float] | None = None,
        nodes: int = NODES,
        never: Iterable[int] = (),
        apart: float = EXACT,
    ) -> Solved | None:
        """The least sum of the terms, with each of `more` at most so much, and columns `never` over 0; None where nothing is found
        that keeps all rows.

        A solution that is known to keep them is a `start`: nothing worse comes of it. Sums that are no further `apart` count as
        equal.
        """
        self._between()
        solver = _THREAD.solver
        solver.setOptionValue("mip_max_nodes", nodes)
        solver.setOptionValue("mip_abs_gap", apart)
        solver.setOptionValue("presolve_rule_off", self._left_out)
        cost = np.zeros(len(self._lows))
        for column, factor in terms:
            cost[column] += factor
        highs = np.array(self._highs)
        highs[list(never)] = 0.0
        rows = [row for held, high in more if (row := self._row(held, -math.inf, high)) is not None]
        self._pass_to(solver, cost, highs, rows)
        core = _core()
        if start is not None:
            known = core.HighsSolution()
            known.col_value = list(start)
            solver.setSolution(known)
        solver.run()
        status = solver.getModelStatus()
        if status not in (core.HighsModelStatus.kOptimal, core.HighsModelStatus.kSolutionLimit):
            return None
        if solver.getInfo().primal_solution_status != core.SolutionStatus.kSolutionStatusFeasible:
            return None  # the nodes ran out before anything was found
        found = np.array(solver.getSolution().col_value)
        columns = tuple(np.where(self._whole, np.round(found) + 0.0, found).tolist())
        return Solved(self.value(terms, columns), columns, status == core.HighsModelStatus.kOptimal)

    def _pass_to(self, solver: Any, cost: Any, highs: Any, more: Sequence["_Row"]) -> None:
        """Give a solver the programme with some rows more."""
        self._in_arrays = _joined(self._in_arrays, _arrays(self._rows[len(self._in_arrays.lows) :]))
        rows = _joined(self._in_arrays, _arrays(more))
        core = _core()
        solver.passModel(
            len(self._lows), len(rows.lows), len(rows.columns),
            int(core.MatrixFormat.kRowwise), int(core.ObjSense.kMinimize), 0.0,
            cost, np.array(self._lows), highs, rows.lows, rows.highs,
            np.concatenate([[0], np.cumsum(rows.lengths)]).astype(np.int32), rows.columns, rows.factors,
            np.array(self._whole, dtype=np.int32),
        )  # fmt: skip


_Row: TypeAlias = tuple[dict[int, float], float, float]


class _Arrays(NamedTuple):
    """Rows one after the other, as the solver takes them."""

    lengths: Any
    columns: Any
    factors: Any
    lows: Any
    highs: Any


def _arrays(rows: Sequence[_Row]) -> _Arrays:
    return _Arrays(
        np.array([len(terms) for terms, _, _ in rows], dtype=np.int32),
        np.array(list(itertools.chain.from_iterable([terms for terms, _, _ in rows])), dtype=np.int32),
        np.array(
            list(itertools.chain.from_iterable([terms.values() for terms, _, _ in rows])), dtype=np.float64
        ),
        np.array([low for _, low, _ in rows], dtype=np.float64),
        np.array([high for _, _, high in rows], dtype=np.float64),
    )


def _joined(one: _Arrays, other: _Arrays) -> _Arrays:
    return _Arrays(*map(np.concatenate, zip(one, other, strict=True))) if len(other.lows) else one


@functools.cache
def _core() -> Any:
    import highspy  # takes a while, and few commands need it

    return highspy


class _Thread(threading.local):
    """What each thread has of its own: searches run beside one another."""

    @functools.cached_property
    def solver(self) -> Any:
        """It keeps nothing of a programme that is solved."""
        return _new_solver()


_THREAD = _Thread()


def _new_solver() -> Any:
    solver = _core().Highs()
    for name, value in (
        ("output_flag", False),
        ("threads", 1),
        ("mip_rel_gap", 0.0),
        ("mip_feasibility_tolerance", 1e-7),
        ("mip_heuristic_run_feasibility_jump", False),
        ("mip_heuristic_run_rins", False),
        ("mip_heuristic_run_rens", False),
        ("mip_heuristic_run_root_reduced_cost", False),
        ("mip_heuristic_effort", 0.0),
        ("mip_allow_restart", False),
        ("mip_root_presolve_only", True),
        ("mip_pscost_minreliable", 0),
        ("mip_pool_soft_limit", 1),
    ):
        solver.setOptionValue(name, value)
    return solver
