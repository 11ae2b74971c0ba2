"""What stands on metal that a finger may reach: worst-case voltage, its class, and why.

Holds the voltages of terminals and connectors. What to do about them is said by `findings.power`.
"""

from collections.abc import Iterable

from rackwright.engine.branch import Branch
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
    whose = f"bridged pair {branch.id}" if branch.mode == "bridged" else branch.id
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
