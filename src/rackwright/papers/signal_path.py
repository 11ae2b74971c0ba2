"""The signal path: from each output of the processor by feed, channel, socket and line to every section that it ends in."""

from collections.abc import Iterator

from rackwright.engine.assess import Assessed
from rackwright.model.index import Index, wired_sections
from rackwright.model.places import ChannelPlace, LinePair, PolePair, SectionPlace
from rackwright.model.racks import Feed
from rackwright.papers.document import Drawing, Sheet, Words
from rackwright.papers.drawing import Node, Said, large, named, paragraphs, tree
from rackwright.papers.lines import without_section
from rackwright.papers.marks import Marks, marked
from rackwright.papers.phrases import REPATCHING, listed
from rackwright.papers.racks import trimmed

SHARE = 0.28
"""Of a channel's row: the channel; the rest is for what hangs on it."""
HOW = Words(
    "Each channel's ways: its socket's pole pair → line and its pole pair → section; by the link of a cabinet where one is on the way."
)
ELSEWHERE = Words(
    "The signal path is drawn in the PDF and the HTML; in words it is on the sheets rack, patch and lines."
)


def path_sheet(assessment: Assessed) -> Sheet:
    """Every feed, and below it the channels that play it; then what no channel is patched to."""
    index, marks = assessment.index, Marks(assessment)
    reached: set[SectionPlace] = set()

    def channels(feed: str) -> tuple[Node, ...]:
        """Those of a feed that are patched, or would have to be."""
        return tuple(
            _channel(index, marks, index.channels[name], reached)
            for name, branch in assessment.branches.items()
            if branch.result.feed == feed and (branch.taps or (feed and not branch.second_of_bridge))
        )

    roots = [Node((_feed(marks, feed),), channels(feed.id)) for feed in index.rig.feeds]
    if unfed := channels(""):
        roots.append(Node(((large("No feed"),),), unfed))
    if left := [str(place) for place in index.sections.values() if place not in reached]:
        roots.append(Node(((large("Reached by no channel"), *paragraphs(listed(left))),)))
    drawing = Drawing(tuple(tree(roots)), (ELSEWHERE,))
    return Sheet(name="path", title="Signal path", blocks=(REPATCHING, HOW, drawing))


def _feed(marks: Marks, feed: Feed) -> tuple[Said, ...]:
    low, high = feed.band
    polarity = "" if feed.polarity == "normal" else ", INVERTED"
    name = f"{feed.output}: {feed.id}" if feed.output else feed.id
    return named(name, marks.own(feed.id), f"{low} to {high}{polarity}")


def _channel(index: Index, marks: Marks, place: ChannelPlace, reached: set[SectionPlace]) -> Node:
    """A channel, and the way from each pole pair that it is patched to; what that reaches is added to `reached`."""
    amplifier = index.amplifiers[place.amplifier]
    mode = amplifier.pair_mode(place.channel)
    told = (*trimmed(amplifier, (place.channel,)), *marks.channel(str(place)))
    ways: list[Said] = []
    for socket, pair, sign in index.taps.get((place.amplifier, place.channel), ()):
        pole = str(PolePair(socket.id, pair))
        begins = marked(pole, (*marks.own(pole), *(("REVERSED",) if sign < 0 else ())))
        ways += paragraphs(
            *(list(_ways(index, marks, socket.id, pair, reached, begins)) or [f"{begins}, no line"])
        )
    name = named(str(place), told, "" if mode == "dual" else mode)
    return Node((name, tuple(ways) or paragraphs("not patched")), shares=(SHARE,))


def _ways(
    index: Index, marks: Marks, source: str, pair: int, reached: set[SectionPlace], begins: str
) -> Iterator[str]:
    """What the lines from a pole pair of a socket or a cabinet's link lead to, line by line."""
    for line in index.lines_from.get(source, ()):
        cabinet = index.cabinets[line.to]
        wiring = wired_sections(cabinet, index.loudspeaker_models[cabinet.model])
        for far, near in enumerate(index.pole_map(line)):
            if near != pair:
                continue
            sections = [SectionPlace(cabinet.id, name) for name in (wiring[far] if far < len(wiring) else ())]
            reached.update(sections)
            way = marked(str(LinePair(line.id, near)), marks.line(line))
            nothing = f"{cabinet.id}, {without_section(index, cabinet.id, far)}"
            ends = listed(map(str, sections)) if sections else nothing
            states = marks.standing(cabinet)
            yield f"{begins} → {way} → {marked(ends, states)}"
            yield from _ways(index, marks, cabinet.id, far, reached, f"{begins} → {cabinet.id}")
