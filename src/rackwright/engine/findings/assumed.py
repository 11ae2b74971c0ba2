"""Judgements on figures of amplifiers that are assumed: one for each model in use, at the first amplifier that is one.

And what is said of them where another judgement rests on them.
"""

from collections.abc import Collection, Iterable, Iterator

from msgspec.structs import replace

from rackwright.engine.demand import DRAWN
from rackwright.engine.finding import Finding
from rackwright.engine.findings.registry import Survey, judges_rig
from rackwright.model.assumed import assumable, said
from rackwright.model.equipment import AmplifierModel
from rackwright.units.wording import few, listed

_OF_CURRENT = (
    "circuit-overloaded", "circuit-near-limit", "circuit-heavy-overload", "board-overloaded",
    "board-near-limit", "board-heavy-overload", "intake-overloaded", "intake-near-limit",
    "intake-heavy-overload", "generator-overloaded", "generator-near-limit", "phases-uneven",
    "neutral-overloaded", "neutral-harmonics", "feed-drop", "supply-voltage-low",
)  # fmt: skip
_RESTS = {
    **dict.fromkeys(_OF_CURRENT, frozenset(DRAWN)),
    "inrush-over-band": frozenset(("inrush",)),
}
"""Code of a judgement on the mains → the figures of amplifiers that it rests on."""


@judges_rig
def gain_assumed(survey: Survey) -> Iterator[Finding]:
    """A gain that is not known, before loudspeakers: whatever is typed into the processor in dBu rests on it."""
    for at, model in _in_use(survey).items():
        if feeds := _played(survey, model):
            yield Finding(
                "gain-assumed",
                "warn",
                at,
                f"The gain of {model.id} is assumed, {model.gain}: limiters in dBu for {few(feeds)} rest on it. With a higher "
                "gain they let that much more through.",
                "Read it off the data sheet, or measure it, and enter it before any limiter is set in dBu.",
            )


@judges_rig
def figures_assumed(survey: Survey) -> Iterator[Finding]:
    """What else is not known; a gain that nothing rests on is told here, too."""
    for at, model in _in_use(survey).items():
        told = {*model.assumed} - ({"gain"} if _played(survey, model) else set())
        if told:
            yield Finding(
                "figures-assumed",
                "note",
                at,
                f"Figures of {model.id} are assumed: {said(model, told)}.",
                "Read them off the data sheet, and enter them in the equipment of the rig.",
            )


def said_on(survey: Survey, findings: Iterable[Finding]) -> Iterator[Finding]:
    """The findings; those on the mains that rest on assumed figures are advised first which to enter, of which models."""
    index = survey.index
    assumed = {a.id: m for a in index.rig.amplifiers() if (m := index.amplifier_models[a.model]).assumed}
    for finding in findings:
        rests = _RESTS.get(finding.code) if assumed else None
        if rests is not None:
            behind = [assumed[each] for each in _behind(survey, finding.at) if each in assumed]
            found = {each.id: each for each in behind if rests.intersection(each.assumed)}
            if found:
                finding = replace(
                    finding, advice=f"{_to_enter(found.values(), rests)} {finding.advice}".rstrip()
                )
        yield finding


def _to_enter(models: Collection[AmplifierModel], rests: Collection[str]) -> str:
    """`Enter the inrush of own-2ch, which is assumed, from its data sheet.`"""
    names = {name for model in models for name in model.assumed if name in rests}
    keys = [field.key.replace("_", " ") for field in assumable(AmplifierModel) if field.name in names]
    are = "is" if len(keys) == 1 else "are"
    sheet = "its data sheet" if len(models) == 1 else "their data sheets"
    of = few([model.id for model in models])
    return f"Enter the {listed(keys)} of {of}, which {are} assumed, from {sheet}."


def _behind(survey: Survey, at: str) -> list[str]:
    """The amplifiers that draw from a circuit or a board, else all."""
    mains = survey.mains
    if at in mains.circuits:
        return [*mains.circuits[at].amplifiers]
    if at in mains.boards:
        return [name for each in mains.boards[at].circuits for name in mains.circuits[each].amplifiers]
    return [*mains.amplifiers]


def _in_use(survey: Survey) -> dict[str, AmplifierModel]:
    """The first amplifier of each model of which something is assumed."""
    found: dict[str, str] = {}
    for amplifier in survey.index.rig.amplifiers():
        found.setdefault(amplifier.model, amplifier.id)
    models = survey.index.amplifier_models
    return {at: models[name] for name, at in found.items() if models[name].assumed}


def _played(survey: Survey, model: AmplifierModel) -> list[str]:
    """The feeds that amplifiers of a model play, where its gain is assumed."""
    if "gain" not in model.assumed:
        return []
    return [
        each.feed.id for each in survey.played if any(branch.model.id == model.id for branch in each.branches)
    ]
