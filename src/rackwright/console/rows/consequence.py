"""Rows that say what an edit would bring: findings that come, go or change, and how full circuits are then."""

from collections.abc import Sequence

from rackwright.console.rows.row import Row, words
from rackwright.engine.assess import Assessed
from rackwright.engine.demand import BoardResult, CircuitResult, SupplyResult
from rackwright.engine.finding import Finding, grouped, sentence_of
from rackwright.engine.limits import LOADINGS
from rackwright.units.formatting import whole_percent


def foreseen(before: Sequence[Finding], after: Sequence[Finding], most: int | None = None) -> list[Row]:
    """What findings come (+), go (−) and, of those above a note, change their figures (~).

    What several places share is told once, with the first `most` of them.
    """
    old, new = {_key(f): f for f in before}, {_key(f): f for f in after}
    told = {
        "+": [f for k, f in new.items() if k not in old],
        "~": [f for k, f in new.items() if k in old and f.severity != "note" and f.message != old[k].message],
        "−": [f for k, f in old.items() if k not in new],
    }
    rows = [_row(sign, group, most) for sign, found in told.items() for group in grouped(found)]
    return rows or [words("No change in findings.", "dim")]


def _row(sign: str, group: Sequence[Finding], most: int | None) -> Row:
    severity, gone = group[0].severity, sign == "−"
    style, look = ("ok", "dim") if gone else (severity, "")
    return Row(((f"{sign} {severity} ", style), (sentence_of(group, most), look)))


def loadings(before: Assessed, after: Assessed) -> list[Row]:
    """How full intake, boards and circuits were and are, programme and driven hard, of those where that changes."""
    then, now = _loadings(before), _loadings(after)
    told = [f"{name} {then[name]} → {new}" for name, new in now.items() if name in then and new != then[name]]
    return [words("; ".join(told))] if told else []


def _loadings(assessment: Assessed) -> dict[str, str]:
    points: dict[str, SupplyResult | BoardResult | CircuitResult] = {"intake": assessment.supply}
    points |= {**assessment.boards, **assessment.circuits}
    return {
        name: f"{whole_percent(point.loading, *LOADINGS)}, hard {whole_percent(point.loading_heavy, *LOADINGS)}"
        for name, point in points.items()
        if point.loading is not None and point.loading_heavy is not None
    }


def _key(finding: Finding) -> tuple[str, str, str]:
    return finding.code, finding.severity, finding.at
