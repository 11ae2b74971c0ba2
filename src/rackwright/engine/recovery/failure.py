"""What has failed, as a state of the rig: channels and circuits marked failed, and a rig with all of them repaired.

Holds no search and no judgement of what a failure does.
"""

from collections.abc import Iterable, Iterator, Sequence

from rackwright.model import edits
from rackwright.model.edits import EditError
from rackwright.model.index import pole_or_none
from rackwright.model.rig import Amplifier, Circuit, Rig, State, channel_name


def fail(rig: Rig, names: Iterable[str]) -> Rig:
    """The rig with each of those marked failed: a channel (`A1.2`), an amplifier, a rack, a circuit.

    An amplifier fails with every channel it has, a rack with every amplifier in it. Raises EditError where there is
    no such thing.
    """
    for name in names:
        if any(circuit.id == name for circuit in rig.circuits):
            rig = edits.unchecked(edits.change)(rig, name, state="failed")
        else:
            rig = edits.unchecked(edits.change)(rig, _channels(rig, name), state="failed")
    return rig


def repaired(rig: Rig) -> Rig:
    """The rig with every channel and every circuit working."""
    for name in failed(rig):
        rig = edits.unchecked(edits.change)(rig, name, state="ok")
    return rig


def failed(rig: Rig) -> tuple[str, ...]:
    """The circuits and channels that are marked failed."""
    told = states(rig.circuits, rig.amplifiers())
    return tuple(name for name, state in told.items() if state == "failed")


def states(circuits: Iterable[Circuit], amplifiers: Iterable[Amplifier]) -> dict[str, State]:
    """Each circuit, and each channel that an amplifier lists → its state."""
    channels = {
        channel_name(amplifier.id, number): channel.state
        for amplifier in amplifiers
        for number, channel in enumerate(amplifier.channels)
    }
    return {circuit.id: circuit.state for circuit in circuits} | channels


def named(rig: Rig, names: Sequence[str]) -> tuple[str, ...]:
    """Circuits and channels as a person names them: an amplifier where all the channels that it has are among them."""
    circuits = [circuit.id for circuit in rig.circuits if circuit.id in names]
    channels: list[str] = []
    told: list[str] = []
    for amplifier in rig.amplifiers():
        own = _channels_of(rig, amplifier)
        among = [name for name in own if name in names]
        channels += among
        told += [amplifier.id] if len(among) == len(own) > 1 else among
    return (*circuits, *told, *(name for name in names if name not in (*circuits, *channels)))


def _channels(rig: Rig, name: str) -> Iterator[str]:
    """The channels that fail with a channel, an amplifier or a rack."""
    if pole_or_none(name):
        yield name
        return
    found = [rack for rack in rig.racks if rack.id == name] or [
        rack for rack in rig.racks if any(amplifier.id == name for amplifier in rack.amplifiers)
    ]
    if not found:
        raise EditError(
            f'Nothing called "{name}" can fail. Name a channel such as "A1.2", an amplifier, a rack or a circuit.'
        )
    for amplifier in found[0].amplifiers:
        if name in (amplifier.id, found[0].id):
            yield from _channels_of(rig, amplifier)


def _channels_of(rig: Rig, amplifier: Amplifier) -> list[str]:
    count = next(model.channels for model in rig.equipment.amplifiers if model.id == amplifier.model)
    return [channel_name(amplifier.id, number) for number in range(count)]
