"""Unlike cabinets on one feed side by side: in level, for watts say nothing of how loud they are.

Levels are those of one section at 1 m; nothing is said of a listener's seat, where distance, number and coverage count.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from rackwright.engine.assess import Assessed
from rackwright.engine.results import SectionResult
from rackwright.model.equipment import SectionKind
from rackwright.units import figure


class Playing(NamedTuple):
    """The sections of one kind of cabinet on one feed that sound and whose sensitivity is known."""

    model: str
    section: str
    kind: SectionKind
    number: int
    sensitivity: float
    """dB at 1 m for 2.83 V."""
    full: tuple[float, float]
    """dB at 1 m at full power, the lowest and the highest of them."""
    under_loudest: tuple[float, float]
    """dB by which the loudest and the quietest of them are under the loudest section of that kind on the feed, at one level of the processor."""


def span(ends: tuple[float, float]) -> str:
    """Two levels in words.

    >>> span((126.1, 126.4)), span((0.0, 0.04))
    ('126.1 to 126.4', '0.0')
    """
    low, high = (f"{end:.1f}" for end in ends)
    return low if low == high else f"{low} to {high}"


def levels_by_feed(assessment: Assessed) -> Mapping[str, Sequence[Playing]]:
    """Feed → the kinds of sections that it drives, in the order of the rig; none whose sensitivity is not stated.

    A level at full power is sensitivity + 20·log10(V/2.83 V) in dB at 1 m; at one level of the processor two sections differ by gain
    and sensitivity together [1]_.

    >>> [(each.model, each.number, span(each.full)) for each in levels_by_feed(hall)["sub"]]
    [('sub-double-18', 8, '126.2 to 126.3'), ('sub-double-18', 8, '126.2 to 126.3')]

    .. [1] IEC 60268-5: characteristic sensitivity. That 1 W into 8 Ω is 2.83 V: by definition.
    """
    kinds: dict[str, dict[tuple[str, str], list[_Heard]]] = defaultdict(lambda: defaultdict(list))
    for result in assessment.sections.values():
        if result.channel is not None and (heard := _heard(result)):
            feed = assessment.channels[result.channel].feed
            kinds[feed][assessment.index.cabinets[result.cabinet].model, result.section].append(heard)
    return {
        feed: [_playing(model, section, alike, alikes.values()) for (model, section), alike in alikes.items()]
        for feed, alikes in kinds.items()
    }


def level_rows(assessment: Assessed) -> tuple[tuple[str, ...], ...]:
    """A row for each kind of section on each feed: feed, cabinets, section, sensitivity, at full power, under the loudest."""
    return tuple(
        (
            feed,
            f"{each.number} × {each.model}",
            each.section,
            figure(each.sensitivity),
            span(each.full),
            span(each.under_loudest),
        )
        for feed, playing in levels_by_feed(assessment).items()
        for each in playing
    )


class _Heard(NamedTuple):
    """A section that sounds and whose sensitivity is known."""

    kind: SectionKind
    sensitivity: float
    full: float
    """dB at 1 m at full power."""
    gained: float
    """dB, its sensitivity and the gain before it: the level beside others at one level of the processor."""


def _heard(result: SectionResult) -> _Heard | None:
    model, level, gain = result.model, result.level, result.gain
    if model is None or model.sensitivity is None or level is None or gain is None:
        return None
    return _Heard(model.kind, model.sensitivity.value, level, gain + model.sensitivity.value)


def _playing(
    model: str, section: str, alike: Sequence[_Heard], on_feed: Iterable[Sequence[_Heard]]
) -> Playing:
    kind, full, gained = alike[0].kind, [each.full for each in alike], [each.gained for each in alike]
    loudest = max(each.gained for others in on_feed for each in others if each.kind == kind)
    return Playing(
        model,
        section,
        kind,
        len(alike),
        alike[0].sensitivity,
        (min(full), max(full)),
        (loudest - max(gained), loudest - min(gained)),
    )
