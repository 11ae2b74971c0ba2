"""Rows that say what an edit would bring: findings that come, go or change."""

from collections.abc import Sequence

from rackwright.console.rows.row import Row, words
from rackwright.engine.results import Finding


def foreseen(before: Sequence[Finding], after: Sequence[Finding], most: int = 5) -> list[Row]:
    """What findings come (+), go (−) and, of those above a note, change their figures (≠); at most `most` rows."""
    old, new = {_key(f): f for f in before}, {_key(f): f for f in after}
    rows = [Row(((f"+ {f.severity} ", f.severity), (f.sentence, ""))) for k, f in new.items() if k not in old]
    rows += [
        Row(((f"≠ {f.severity} ", f.severity), (f.sentence, "")))
        for k, f in new.items()
        if k in old and f.severity != "note" and f.message != old[k].message
    ]
    rows += [Row(((f"− {f.severity} ", "ok"), (f.sentence, "dim"))) for k, f in old.items() if k not in new]
    if not rows:
        return [words("No change in findings.", "dim")]
    more = [words(f"and {len(rows) - most + 1} more", "dim")] if len(rows) > most else []
    return rows[: most - len(more)] + more


def _key(finding: Finding) -> tuple[str, str, str]:
    return finding.code, finding.severity, finding.at
