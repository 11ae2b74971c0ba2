"""Unlike cabinets on one feed side by side: in level, for watts say nothing of how loud they are.

Levels are those of one section at 1 m; nothing is said of a listener's seat, where distance, number and coverage count.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from rackwright.engine.assess import Assessed
from rackwright.model.equipment import SectionKind


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

    .. [1] IEC 60268-5: characteristic sensitivity. That 1 W into 8 Ω is 2.83 V: by definition.
    """
    index = assessment.index
    found: dict[str, dict[tuple[str, str], list[tuple[float, float]]]] = defaultdict(
        lambda: defaultdict(list)
    )
    models = {}
    for result in assessment.sections.values():
        model, level, gain = result.model, result.level, result.gain
        if (
            result.channel is None
            or model is None
            or model.sensitivity is None
            or level is None
            or gain is None
        ):
            continue
        place = index.cabinets[result.cabinet].model, result.section
        models[place] = model
        at_once = gain + model.sensitivity.value
        found[assessment.channels[result.channel].feed][place].append((level, at_once))
    return {
        feed: [
            Playing(
                *place,
                models[place].kind,
                len(each),
                models[place].sensitivity.value,  # type: ignore[union-attr]
                (min(level for level, _ in each), max(level for level, _ in each)),
                _under(
                    each,
                    [
                        at
                        for p, others in kinds.items()
                        if models[p].kind == models[place].kind
                        for _, at in others
                    ],
                ),
            )
            for place, each in kinds.items()
        ]
        for feed, kinds in found.items()
    }


def _under(each: Sequence[tuple[float, float]], alike: Sequence[float]) -> tuple[float, float]:
    loudest = max(alike)
    return loudest - max(at for _, at in each), loudest - min(at for _, at in each)
