"""The findings sheet: the cautions that go with the work, then every finding with what to do."""

from collections.abc import Iterator, Sequence

from rackwright.engine import cautions
from rackwright.engine.assess import Assessed
from rackwright.engine.finding import Finding, grouped, message_of, places
from rackwright.papers.document import Sheet, Table, Words
from rackwright.papers.phrases import PLANNING, REPATCHING
from rackwright.units import NOTHING

TITLE = "Findings and cautions"
CAUTIONS = (
    REPATCHING,
    Words(f"{cautions.JOINED} {cautions.BRIDGED}", True),
    Words(cautions.PROVE, True),
    PLANNING,
)


HEADS = ("severity", "at", "what", "what to do")


def rows(findings: Sequence[Finding]) -> Iterator[tuple[str, ...]]:
    """A row under HEADS for each finding, for those that say the same one."""
    for group in grouped(findings):
        first = group[0]
        yield first.severity, places(group), message_of(group), first.advice or NOTHING


def findings_sheet(assessment: Assessed) -> Sheet:
    """The cautions, then every finding, the gravest first."""
    counts = ", ".join(assessment.counts())
    found = Table(heads=HEADS, rows=tuple(rows(assessment.findings)))
    blocks = (
        *CAUTIONS,
        Words(f"{counts}. {assessment.verdict}"),
        *((found,) if found.rows else ()),
    )
    return Sheet(name="findings", title=TITLE, blocks=blocks)
