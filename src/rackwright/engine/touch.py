"""What stands on metal that a finger may reach: worst-case voltage, its class, and why.

Holds the voltages of terminals and connectors, and which work takes an amplifier powered down. What to do about exposed
metal is said by `findings.power`.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from typing import NamedTuple

from rackwright.engine.channel import Branch
from rackwright.engine.results import Contact, TouchClass, TouchResult
from rackwright.model.index import Index
from rackwright.units import reading

ES1, ES2 = 71.0, 120.0
"""V rms up to which an audio signal is of class ES1 and ES2; above it is ES3.

Source: IEC 62368-1 Annex E, Table E.1, from memory.
"""

SPANS: dict[TouchClass, str] = {"ES1": "up to 71 V", "ES2": "over 71 to 120 V", "ES3": "over 120 V"}
SOURCE = "IEC 62368-1 Table E.1, from memory"


def touch_class(voltage: float) -> TouchClass:
    """The class of an audio signal of `voltage` (V rms)."""
    if voltage <= ES1:
        return "ES1"
    return "ES2" if voltage <= ES2 else "ES3"


def worst_voltage(branch: Branch) -> float:
    """The highest voltage in V rms that a channel or bridged pair puts out: open-circuit or rated, the larger."""
    return max(branch.output.open_voltage, *(point.voltage for point in branch.output.points))


def of_branch(index: Index, branch: Branch) -> tuple[TouchResult, ...]:
    """A channel's terminals, and each connector on its way whose contacts are not shrouded.

    Neither feed nor state counts: a channel may be fed at any moment, and a failed one is not to be trusted.
    The second half of a bridge is told with the first.
    """
    if branch.second_of_bridge:
        return ()
    voltage = worst_voltage(branch)
    why = _why(branch, voltage)

    def result(place: str, contact: Contact, exposed: bool) -> TouchResult:
        return TouchResult(
            place=place,
            contact=contact,
            channel=branch.id,
            voltage=voltage,
            touch_class=touch_class(voltage),
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
    return f"{whose} puts out {reading(voltage, 'V')} {kind}: class {level}, {SPANS[level]} ({SOURCE})"


def gathered(branches: Iterable[Branch]) -> dict[str, TouchResult]:
    """Every place of the rig, each with the highest voltage that stands there."""
    places: dict[str, TouchResult] = {}
    for branch in branches:
        for result in branch.touch:
            known = places.get(result.place)
            if known is None or known.voltage < result.voltage:
                places[result.place] = result
    return places


# --- what takes power down ------------------------------------------------------------------------------


class _Pole(NamedTuple):
    """A channel's contact at a connector."""

    amplifier: str
    voltage: float
    signal: tuple[str, int]
    """The feed and the sign it comes with; without a feed the channel itself, which may be given any."""
    exposed: bool


def powered_down(index: Index, branches: Iterable[Branch], places: Iterable[str]) -> set[str]:
    """The amplifiers to switch off before a plug is moved at those sockets and cabinets, or a patch at those channels.

    Muting is enough for a shrouded connector whose contacts, each alone, are ES1 or ES2, in the dry, unless a finger
    reaches a contact of its panel and two of them add up to a higher class. What is moved there is safe once what
    drives it is off.
    """
    wanted = set(places)
    if not wanted:
        return set()
    panel_of = {place: _panel(index, place) for place in wanted}
    near = set(panel_of.values())
    roots = {index.root(place) for place in wanted}
    at: dict[str, list[_Pole]] = defaultdict(list)
    panels: dict[str, list[_Pole]] = defaultdict(list)
    for branch in branches:
        sockets = [socket.id for socket, _, _ in branch.taps]
        if branch.amplifier.id in near or any(s in roots or _panel(index, s) in near for s in sockets):
            for place, pole in _poles(index, branch):
                panels[_panel(index, place)].append(pole)
                at[place].append(pole)
    trouble = {
        panel for panel in near if any(pole.exposed for pole in panels[panel]) and _adds_up(panels[panel])
    }
    off: set[str] = set()
    for place in wanted:
        poles = at[place]
        if panel_of[place] in trouble or any(pole.exposed or pole.voltage > ES2 for pole in poles):
            off |= {pole.amplifier for pole in poles}
    return off


def _panel(index: Index, place: str) -> str:
    """What is within one hand's reach of a contact: a rack's panel, an amplifier's terminals, a cabinet's connector."""
    if channel := index.channels.get(place):
        return channel.amplifier
    return index.rack_of[place].id if place in index.sockets else place


def _poles(index: Index, branch: Branch) -> Iterator[tuple[str, _Pole]]:
    """A channel's contacts, each with its place."""
    if branch.second_of_bridge:
        return
    amplifier, voltage = branch.amplifier.id, branch.touch[0].voltage
    feed = branch.feed.id if branch.feed else branch.id
    yield branch.id, _Pole(amplifier, voltage, (feed, 1), branch.model.terminals == "exposed")
    for socket, _, sign in branch.taps:
        exposed = not index.connector_models[socket.connector].shrouded
        yield socket.id, _Pole(amplifier, voltage, (feed, sign), exposed)
    for run in branch.all_runs:
        yield run.line.to, _Pole(amplifier, voltage, (feed, 1), not run.far_connector.shrouded)


def _adds_up(panel: Iterable[_Pole]) -> bool:
    """Whether the sum of two contacts is in a higher class than the contacts alone.

    Between two that carry one feed with one sign stands the larger of their voltages, between others the sum.
    """
    highest: dict[tuple[str, int], float] = {}
    for pole in panel:
        highest[pole.signal] = max(pole.voltage, highest.get(pole.signal, 0.0))
    top = sorted(highest.values(), reverse=True)[:2]
    return len(top) == 2 and touch_class(sum(top)) != touch_class(top[0])
