"""What of a rig is what of a venue where their ids differ: proposed by position, model or cabinet, asked once, kept with the venue's facts."""

from collections.abc import Iterable
from typing import Any, NamedTuple

from msgspec.structs import replace

from rackwright.model.racks import Amplifier
from rackwright.model.rig import Rig
from rackwright.model.venue_facts import Match, VenueFacts


class Proposal(NamedTuple):
    """A thing of the rig that may be what the venue knows under another id."""

    known: str
    here: str
    why: str
    """`the same position`."""


def proposed(rig: Rig, facts: VenueFacts) -> tuple[Proposal, ...]:
    """What of the rig may be what of the venue, where ids differ and nobody said yet: by position, then by model.

    By model only where there are as many left on either side, in the order in which they stand. A line goes with the cabinet that it
    leads to.
    """
    said = [match for match in facts.matches if match.rig == rig.name]
    facts, settled_ = in_words_of(rig, facts), {match.known for match in said}

    def paired(known: list[tuple[str, str, str]], here: list[tuple[str, str, str]]) -> list[Proposal]:
        """Of ids with position and model, each side without what the other has too."""
        left = [each for each in known if each[0] not in {name for name, *_ in here} | settled_]
        mine = [each for each in here if each[0] not in {name for name, *_ in known}]
        found = []
        for at, why in ((1, "the same position"), (2, "the same model")):
            for value in dict.fromkeys(each[at].casefold() for each in mine):
                ours = [each for each in mine if each[at].casefold() == value]
                theirs = [each for each in left if each[at].casefold() == value]
                if value and len(ours) == len(theirs) and (at == 2 or len(ours) == 1):
                    found += [Proposal(a[0], b[0], why) for a, b in zip(theirs, ours, strict=True)]
                    left = [each for each in left if each not in theirs]
                    mine = [each for each in mine if each not in ours]
        return found

    cabinets = paired(
        [(each.cabinet, each.position, each.model) for each in facts.positions],
        [(each.id, each.position, each.model) for each in rig.cabinets],
    )
    amplifiers = paired(
        [(each.amplifier, each.place, each.model) for each in facts.mains],
        [(each.id, place, each.model) for each, place in amplifiers_with_place(rig)],
    )
    stands_for = {each.known: each.here for each in cabinets}
    fitting = {(known.line, line.id) for known in facts.lines for line in rig.lines if known.fits(line)}
    taken, measured = {one for one, _ in fitting}, {other for _, other in fitting}
    led = {
        stands_for.get(known.to, known.to): known.line
        for known in facts.lines
        if known.line not in taken | settled_
    }
    lines = [
        Proposal(led[line.to], line.id, f"the line to {line.to}")
        for line in rig.lines
        if line.id not in measured and line.to in led and led[line.to] != line.id
    ]
    return (*cabinets, *lines, *amplifiers)


def matched(rig: Rig, facts: VenueFacts, proposals: Iterable[Proposal], agreed: bool) -> VenueFacts:
    """The facts with what was said of the proposals, so that it is never asked again: those ids are one thing, or are not."""
    said = (Match(rig=rig.name, known=each.known, here=each.here if agreed else "") for each in proposals)
    return replace(facts, matches=(*facts.matches, *said))


def in_words_of(rig: Rig, facts: VenueFacts) -> VenueFacts:
    """The facts under the ids that this rig has for them; what an id stands for that is another thing here is left out."""
    names = {match.known: match.here for match in facts.matches if match.rig == rig.name and match.here}
    if not names:
        return facts
    others = set(names.values()) - names.keys()

    def renamed(things: Iterable[Any], key: str) -> tuple[Any, ...]:
        known = ((each, getattr(each, key)) for each in things)
        return tuple(
            replace(each, **{key: names.get(name, name)}) for each, name in known if name not in others
        )

    lines = tuple(
        replace(each, line=names.get(each.line, each.line), to=names.get(each.to, each.to))
        for each in facts.lines
        if each.line not in others
    )
    positions = tuple(
        replace(each, links_to=tuple(names.get(name, name) for name in each.links_to))
        if each.links_to
        else each
        for each in renamed(facts.positions, "cabinet")
    )
    return replace(
        facts,
        lines=lines,
        positions=positions,
        mains=renamed(facts.mains, "amplifier"),
        reaches=renamed(facts.reaches, "thing"),
        readings=renamed(facts.readings, "line"),
    )


def amplifiers_with_place(rig: Rig) -> list[tuple[Amplifier, str]]:
    """Each amplifier with its rack and unit."""
    return [(each, f"{rack.id}/{each.unit}") for rack in rig.racks for each in rack.amplifiers]
