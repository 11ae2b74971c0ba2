"""What stands on metal that a finger may reach: worst-case voltage, its class, and why.

Holds the voltages of terminals and connectors, and which work takes an amplifier powered down. What to do about exposed
metal is said by `findings.touch`.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from operator import attrgetter
from typing import NamedTuple

from rackwright.engine.channel import Branch
from rackwright.engine.results import Contact, TouchClass, TouchResult
from rackwright.model.index import Index
from rackwright.units import reading

ES1, ES2 = 71.0, 120.0
"""V rms up to which an audio signal is of class ES1 and ES2; above it is ES3.

Source: IEC 62368-1 Annex E, Table E.1, from memory.
"""

WET = 25.0
"""V rms up to which a contact that wet hands may reach is accepted. Source: IEC 60364-4-41, from memory."""

SPANS: dict[TouchClass, str] = {"ES1": "up to 71 V", "ES2": "71 to 120 V", "ES3": "over 120 V"}
SOURCE = "IEC 62368-1 Table E.1, from memory"
_EXPOSED = attrgetter("exposed")
MUTE = "mute"
"""What comes before a plug is moved, where that is enough."""


def touch_class(voltage: float) -> TouchClass:
    """The class of an audio signal of `voltage` (V rms) [1]_; for dry hands.

    >>> touch_class(71.0), touch_class(104.9), touch_class(188.0)
    ('ES1', 'ES2', 'ES3')

    .. [1] IEC 62368-1 Annex E, Table E.1, from memory.
    """
    if voltage <= ES1:
        return "ES1"
    return "ES2" if voltage <= ES2 else "ES3"


def of_branch(index: Index, branch: Branch) -> tuple[TouchResult, ...]:
    """A channel's terminals, and each connector on its way whose contacts are not shrouded.

    Neither feed nor state counts: a channel may be fed at any moment, and a failed one is not to be trusted.
    The second half of a bridge is told with the first.

    Classes as of `touch_class` [1]_.

    >>> [(contact.place, contact.touch_class) for contact in of_branch(index, branch)][:1]
    [('A1.1', 'ES2')]

    .. [1] IEC 62368-1 Annex E Table E.1, from memory.
    """
    if branch.second_of_bridge:
        return ()
    voltage = branch.output.worst_voltage
    level, why = touch_class(voltage), _why(branch, voltage)

    def result(place: str, contact: Contact, exposed: bool) -> TouchResult:
        return TouchResult(
            place=place,
            contact=contact,
            channel=branch.id,
            voltage=voltage,
            touch_class=level,
            exposed=exposed,
            why=why,
        )

    taps = {socket.id: index.connector_models[socket.connector] for socket, _, _ in branch.taps}
    ends = {run.line.to: run.far_connector for run in branch.all_runs}
    return (
        result(branch.id, "terminals", branch.model.terminals == "exposed"),
        *(result(place, "socket", True) for place, connector in taps.items() if not connector.shrouded),
        *(result(place, "cabinet", True) for place, connector in ends.items() if not connector.shrouded),
    )


def _why(branch: Branch, voltage: float) -> str:
    whose = f"{branch.id} bridged" if branch.mode == "bridged" else branch.id
    kind = "with nothing connected" if voltage == branch.output.open_voltage else "at its highest rated power"
    level = touch_class(voltage)
    both = (
        "; both its contacts are live to earth"
        if branch.mode == "bridged" or branch.model.output == "full bridge"
        else ""
    )
    return f"{whose} puts out {reading(voltage, 'V')} {kind}, class {level} ({SPANS[level]}){both}"


def gathered(branches: Iterable[Branch]) -> dict[str, TouchResult]:
    """Every place of the rig, each with the highest voltage that stands there."""
    places: dict[str, TouchResult] = {}
    for branch in branches:
        for result in branch.touch:
            known = places.get(result.place)
            if known is None or known.voltage < result.voltage:
                places[result.place] = result
    return places


# --- between two contacts, and what takes power down ----------------------------------------------------


class Pole(NamedTuple):
    """A channel's contact at a connector or at its terminals."""

    place: str
    channel: str
    amplifier: str
    voltage: float
    signal: tuple[str, int]
    """The feed and the sign it comes with; without a feed the channel itself, which may be given any."""
    exposed: bool


class Pair(NamedTuple):
    """Two contacts within one hand's reach that are in a higher class together than alone."""

    panel: str
    first: Pole
    second: Pole

    @property
    def voltage(self) -> float:
        """V between the two, at worst."""
        return self.first.voltage + self.second.voltage


def exposed_pairs(index: Index, branches: Iterable[Branch]) -> Iterator[Pair]:
    """Of each panel with exposed contacts the worst two of them that are in a higher class together than alone.

    Between two signals the sum, by definition a bound; classes [1]_.

    >>> list(exposed_pairs(index, hall.branches.values()))
    []

    .. [1] IEC 62368-1 Annex E Table E.1, from memory.
    """
    panels: dict[str, list[Pole]] = defaultdict(list)
    for branch in branches:
        if (branch.feed is None and not branch.taps) or not any(map(_EXPOSED, branch.touch)):
            continue
        for pole in _poles(index, branch):
            if pole.exposed:
                panels[_panel(index, pole.place)].append(pole)
    for panel, poles in panels.items():
        if found := _together(poles):
            yield Pair(panel, *found)


def powered_down(index: Index, branches: Iterable[Branch], places: Iterable[str]) -> set[str]:
    """The amplifiers to switch off before a plug is moved at those sockets and cabinets, or a patch at those channels.

    Muting is enough for a shrouded connector whose contacts, each alone, are ES1 or ES2, in the dry, unless a finger
    reaches a contact of its panel and two of them add up to a higher class. What is moved there is safe once what
    drives it is off. In the wet muting is never enough.

    The rule: common practice, no source; classes [1]_.

    >>> powered_down(index, hall.branches.values(), ["R1-1"])
    set()

    .. [1] IEC 62368-1 Annex E Table E.1, from memory.
    """
    wanted = set(places)
    if not wanted:
        return set()
    panel_of = {place: _panel(index, place) for place in wanted}
    near = set(panel_of.values())
    roots = {index.root(place) for place in wanted}
    panels_near = [index.racks[name] for name in near if name in index.racks]
    handled = roots | {socket.id for rack in panels_near for socket in rack.sockets}
    at: dict[str, list[Pole]] = defaultdict(list)
    panels: dict[str, list[Pole]] = defaultdict(list)
    for branch in branches:
        if branch.amplifier.id in near or any(socket.id in handled for socket, _, _ in branch.taps):
            for pole in _poles(index, branch):
                panels[_panel(index, pole.place)].append(pole)
                at[pole.place].append(pole)
    trouble = {
        panel for panel in near if any(pole.exposed for pole in panels[panel]) and _together(panels[panel])
    }
    off: set[str] = set()
    for place in wanted:
        poles = at[place]
        live = index.rig.wet or any(pole.exposed or pole.voltage > ES2 for pole in poles)
        if live or panel_of[place] in trouble:
            off |= {pole.amplifier for pole in poles}
    return off


def made_safe(index: Index, branches: Iterable[Branch], places: Iterable[str]) -> str:
    """What comes before plugs are moved there, as an order: to power amplifiers down, or to mute where that is enough.

    By `powered_down`, common practice, no source.

    >>> made_safe(index, hall.branches.values(), ["R1-1"])
    'mute'
    """
    off = powered_down(index, branches, places)
    ordered = [name for name in index.amplifiers if name in off]
    return f"power {' and '.join(ordered)} down" if ordered else MUTE


def _panel(index: Index, place: str) -> str:
    """What is within one hand's reach of a contact: a rack's panel, an amplifier's terminals, a cabinet's connector."""
    if channel := index.channels.get(place):
        return channel.amplifier
    return index.rack_of[place].id if place in index.sockets else place


def _poles(index: Index, branch: Branch) -> Iterator[Pole]:
    """A channel's contacts."""
    if branch.second_of_bridge:
        return
    voltage = branch.touch[0].voltage
    feed = branch.feed.id if branch.feed else branch.id

    def pole(place: str, sign: int, exposed: bool) -> Pole:
        return Pole(place, branch.id, branch.amplifier.id, voltage, (feed, sign), exposed)

    yield pole(branch.id, 1, branch.model.terminals == "exposed")
    signs = {socket.id: sign for socket, _, sign in branch.taps}
    for socket, _, sign in branch.taps:
        yield pole(socket.id, sign, not index.connector_models[socket.connector].shrouded)
    for run in branch.all_runs:
        yield pole(run.line.to, signs.get(index.root(run.line.to) or "", 1), not run.far_connector.shrouded)


def _together(panel: Iterable[Pole]) -> tuple[Pole, Pole] | None:
    """The two contacts with the highest sum that is in a higher class than the contacts alone.

    Between two that carry one feed with one sign, or belong to one channel, stands the larger of their voltages, between
    others the sum. Beside a contact the next one of another signal in falling order adds most.
    """
    falling = sorted(panel, key=lambda pole: -pole.voltage)
    pairs = [
        (first, second)
        for i, first in enumerate(falling)
        for second in [next((p for p in falling[i + 1 :] if not _moves_with(first, p)), None)]
        if second is not None and touch_class(first.voltage + second.voltage) != touch_class(first.voltage)
    ]
    return max(pairs, key=lambda pair: pair[0].voltage + pair[1].voltage, default=None)


def _moves_with(one: Pole, other: Pole) -> bool:
    return one.signal == other.signal or one.channel == other.channel
