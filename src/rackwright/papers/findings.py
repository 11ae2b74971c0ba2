"""The findings sheet: the cautions that go with the work, then every finding with what to do."""

from rackwright.engine import cautions
from rackwright.engine.assess import Assessed
from rackwright.papers.document import Sheet, Table, Words
from rackwright.papers.phrases import PLANNING, REPATCHING
from rackwright.units import NOTHING

CAUTIONS = (
    REPATCHING,
    Words(f"{cautions.JOINED} {cautions.BRIDGED}", True),
    Words(cautions.PROVE, True),
    PLANNING,
)


def findings_sheet(assessment: Assessed) -> Sheet:
    """The cautions, then every finding, the gravest first."""
    counts = ", ".join(assessment.counts())
    found = Table(
        heads=("severity", "at", "what", "what to do"),
        rows=tuple((f.severity, f.at, f.message, f.advice or NOTHING) for f in assessment.findings),
    )
    blocks = (
        *CAUTIONS,
        Words(f"{counts}. {assessment.verdict}"),
        *((found,) if found.rows else ()),
    )
    return Sheet(name="findings", title="Findings and cautions", blocks=blocks)
