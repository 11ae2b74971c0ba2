"""The equipment sheet: what goes on the truck, by kind and model, with weights."""

from collections import Counter
from collections.abc import Iterable

from rackwright.engine.assess import Assessed
from rackwright.model.equipment import AmplifierModel, LoudspeakerModel
from rackwright.papers.document import Sheet, Table, Words
from rackwright.papers.marks import assumed_words
from rackwright.papers.phrases import TICKED
from rackwright.units import NOTHING, Mass, short


def equipment_sheet(assessment: Assessed) -> Sheet:
    """What goes on the truck, by kind and model."""
    rig, index = assessment.index.rig, assessment.index
    spare: Counter[str] = Counter()
    leads: Counter[str] = Counter()
    for s in rig.spares:
        spare[s.amplifier] += s.count
        leads[s.cable] += s.count
    del spare[""], leads[""]
    amplifiers = Counter(a.model for a in rig.amplifiers()) + spare
    loudspeakers = Counter(c.model for c in rig.cabinets)
    cables = Counter(line.cable for line in rig.lines) + leads
    entries: list[tuple[str, AmplifierModel | LoudspeakerModel, int, int]] = [
        *(("amplifier", index.amplifier_models[m], amplifiers[m], spare[m]) for m in sorted(amplifiers)),
        *(("loudspeaker", index.loudspeaker_models[m], loudspeakers[m], 0) for m in sorted(loudspeakers)),
    ]
    rows = [
        (
            kind,
            model.id,
            model.name or NOTHING,
            *_counts(count, of_them),
            *_weights(model.weight, count),
        )
        for kind, model, count, of_them in entries
    ]
    rows += [
        ("cable", m, index.cable_models[m].name or NOTHING, *_counts(cables[m], leads[m]), NOTHING, NOTHING)
        for m in sorted(cables)
    ]
    known = _total((model.weight, count) for _, model, count, _ in entries)
    unknown = sum(count for _, model, count, _ in entries if model.weight is None)
    told = f"Weight of amplifiers and loudspeakers: {known:.0f} kg"
    told += f", {unknown} of unknown weight left out." if unknown else "."
    racks = Table(
        name="racks",
        heading="Racks",
        heads=("rack", "name", "units", "amplifiers kg"),
        right=frozenset({"units", "amplifiers kg"}),
        rows=tuple(
            (rack.id, rack.name or NOTHING, f"{rack.height}", short(assessment.racks[rack.id].weight))
            for rack in rig.racks
        ),
    )
    items = Table(
        heads=("kind", "model", "name", "in all", "spare", "kg each", "kg", *TICKED),
        right=frozenset({"in all", "spare", "kg each", "kg"}),
        written=frozenset(TICKED),
        rows=tuple((*row, "", "") for row in rows),
    )
    return Sheet(
        name="equipment",
        title="Equipment",
        blocks=(
            items,
            Words(f"{told} Cases, racks and cables come on top."),
            *assumed_words(assessment, ("weight",)),
            racks,
        ),
    )


def _counts(count: int, spare: int) -> tuple[str, str]:
    return f"{count}", f"{spare}" if spare else NOTHING


def _weights(weight: Mass | None, count: int) -> tuple[str, str]:
    return (NOTHING, NOTHING) if weight is None else (short(weight.value), short(weight.value * count))


def _total(weighed: Iterable[tuple[Mass | None, int]]) -> float:
    return sum(weight.value * count for weight, count in weighed if weight is not None)
