"""What findings mean: every code that a judgement can give has its meaning, with the limit that it is judged by."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

from rackwright.engine import findings
from rackwright.engine.assess import assess
from rackwright.engine.findings.meanings import MEANINGS

from .test_findings import CASES

KINDS = ("rack", "amplifier", "channel", "socket", "pole-pair", "line", "line-pair", "cabinet", "section", "feed", "phase")  # fmt: skip
"""Of what may be marked failed, so that cabinets are silent for it."""
GRADES = ("overloaded", "near-limit", "heavy-overload")
CODE = re.compile(r"[a-z]+(-[a-z]+)+")


def codes() -> Iterator[str]:
    """Those in the judgements' own text; those put together there from a kind and an end."""
    for module in Path(findings.__file__).parent.glob("*.py"):
        if module.name != "meanings.py":
            for node in ast.walk(ast.parse(module.read_text())):
                if (
                    isinstance(node, ast.Constant)
                    and isinstance(node.value, str)
                    and CODE.fullmatch(node.value)
                ):
                    yield node.value
    yield from (f"{kind}-failed" for kind in KINDS)
    yield from (f"{point}-{grade}" for point in ("board", "intake") for grade in GRADES)


def test_a_meaning_is_written_with_one_article() -> None:
    for code, meaning in MEANINGS.items():
        assert not re.search(r"\b(an?|the) (an?|the)\b", f"{meaning.means} {meaning.do}", re.IGNORECASE), code


PARTS = {*GRADES, "pole-pair", "line-pair"}


def test_every_code_has_its_meaning_and_no_other_word_has_one() -> None:
    assert set(codes()) - PARTS == set(MEANINGS)


def test_a_finding_past_a_limit_is_explained_by_one() -> None:
    found = [finding for case in CASES.values() for finding in assess(case.broken).findings]
    assert {finding.code for finding in found if finding.limit} <= {
        c for c, m in MEANINGS.items() if m.limits
    }
    assert any(finding.limit for finding in found)


def test_a_limit_is_said_with_its_source() -> None:
    (words,) = MEANINGS["impedance-dips"].limit_words()
    assert words == (
        "In Ω, on the lowest modulus in the band: what IEC 60268-5 lets a load of that rating fall to (1). "
        "(1) IEC 60268-5: not under 80 % of the rated impedance."
    )
    for code, meaning in MEANINGS.items():
        for said in meaning.limit_words():
            assert ">>>" not in said, code
            assert "]_" not in said, code
