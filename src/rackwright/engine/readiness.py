"""Whether a rig is ready for doors: what is still open, point by point. Of its papers it knows nothing: they are files."""

from collections.abc import Container, Iterator
from typing import NamedTuple

from rackwright.engine.assess import Assessed
from rackwright.engine.finding import counted, grouped, sentence_of
from rackwright.engine.meter_check.kept_readings import checked
from rackwright.units.wording import runs, so_many


class Point(NamedTuple):
    """One of the points, with what of it is open."""

    told: str
    """How it stands, in a few words."""
    advice: str
    """What to do where it is open."""
    left: tuple[str, ...]
    """Each thing that is open; nothing where the point is done."""


def readiness(assessment: Assessed) -> tuple[Point, ...]:
    """Stops, lines that no reading proves, lists that are not ticked off."""
    return (_stops(assessment), _lines(assessment), _lists(assessment))


def _stops(assessment: Assessed) -> Point:
    stops = [finding for finding in assessment.findings if finding.severity == "stop"]
    warnings = sum(finding.severity == "warn" for finding in assessment.findings)
    left = tuple(map(sentence_of, grouped(stops)))
    told = f"{counted(len(stops), 'stop')}, {counted(warnings, 'warn')}"
    return Point(told, "Fix every stop before switching anything on.", left)


def _lines(assessment: Assessed) -> Point:
    """By lines with the same verdict: nothing but a reading proves one."""
    found = checked(assessment.index)
    proved = sum(item.status == "as expected" for item in found)
    verdicts: dict[str, set[str]] = {}
    for item in found:
        if item.status != "as expected":
            verdicts.setdefault(item.status, set()).add(item.test.line)
    left = tuple(
        f"{verdict}: {runs([name for name in assessment.index.lines if name in verdicts[verdict]])}"
        for verdict in _ordered(verdicts)
    )
    told = f"{proved} of {len(found)} pole pairs proved by a meter"
    return Point(told, "Read each pole pair with a meter, with the amplifiers off.", left)


def _ordered(verdicts: Container[str]) -> Iterator[str]:
    """The gravest first."""
    return (verdict for verdict in ("wrong", "not proved", "drifted", "not tested") if verdict in verdicts)


def _lists(assessment: Assessed) -> Point:
    lists = [each for each in assessment.index.rig.lists if not each.done]
    left = tuple(f"{each.title}: {each.ticked} of {len(each.steps)} ticked" for each in lists)
    told = f"{so_many(len(lists), 'list')} not ticked off" if lists else "no recovery steps to tick"
    return Point(told, "Do each step and tick it.", left)
