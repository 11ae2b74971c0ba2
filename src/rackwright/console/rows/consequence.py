"""Rows that say what an edit would bring: findings that come, go or change, and how full circuits are then."""

import re
from collections import defaultdict
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
    old, new = _by_kind(before), _by_kind(after)
    told: dict[str, list[Finding]] = {"+": [], "~": [], "−": []}
    for kind in {**new, **old}:
        if new[kind] == old[kind]:
            continue
        come, gone = _only_in(new[kind], old[kind]), _only_in(old[kind], new[kind])
        changed = min(len(come), len(gone))
        told["~"] += [f for f in come[:changed] if f.severity != "note"]
        told["+"] += come[changed:]
        told["−"] += gone[changed:]
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


def _by_kind(findings: Sequence[Finding]) -> defaultdict[tuple[str, str, str], list[Finding]]:
    found = defaultdict[tuple[str, str, str], list[Finding]](list)
    for each in findings:
        found[each.code, each.severity, each.at].append(each)
    return found


def _only_in(these: Sequence[Finding], those: Sequence[Finding]) -> list[Finding]:
    """What only these say, first what those say with other figures, in the order of its words."""
    said, alike = {f.message for f in those}, {_bare(f) for f in these} & {_bare(f) for f in those}
    return sorted(
        (f for f in these if f.message not in said), key=lambda f: (_bare(f) not in alike, _bare(f))
    )


def _bare(finding: Finding) -> str:
    return re.sub(r"\d[\d.]*", "", finding.message)
