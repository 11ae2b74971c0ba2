"""What has failed, as a state of the rig: channels and circuits marked failed, and a rig with all of them sound.

Holds no search and no judgement of what a failure does.
"""

from collections.abc import Iterable, Iterator, Sequence

from rackwright.model import edit
from rackwright.model.edit import EditError
from rackwright.model.rig import Rig, channel_name


def fail(rig: Rig, names: Iterable[str]) -> Rig:
    """The rig with each of those marked failed: a channel (`A1.2`), an amplifier, a rack, a circuit.

    An amplifier fails with every channel it has, a rack with every amplifier in it. Raises EditError where there is
    no such thing.
    """
    for name in names:
        if any(circuit.id == name for circuit in rig.circuits):
            rig = edit.unchecked(edit.change)(rig, name, state="failed")
        else:
            rig = edit.unchecked(edit.mark)(rig, tuple(_channels(rig, name)), "failed")
    return rig


def sound(rig: Rig) -> Rig:
    """The rig with every channel and every circuit sound."""
    for name in failed(rig):
        if "." in name:
            rig = edit.unchecked(edit.mark)(rig, name, "ok")
        else:
            rig = edit.unchecked(edit.change)(rig, name, state="ok")
    return rig


def failed(rig: Rig) -> tuple[str, ...]:
    """The circuits and channels that are marked failed."""
    return (
        *(circuit.id for circuit in rig.circuits if circuit.state == "failed"),
        *(
            channel_name(amplifier.id, number)
            for amplifier in rig.amplifiers()
            for number, channel in enumerate(amplifier.channels)
            if channel.state == "failed"
        ),
    )


def named(rig: Rig, names: Sequence[str]) -> tuple[str, ...]:
    """Circuits and channels as a person names them: an amplifier where all the channels that it has are among them."""
    counts = {model.id: model.channels for model in rig.equipment.amplifiers}
    told = [name for name in names if "." not in name]
    for amplifier in rig.amplifiers():
        count = counts[amplifier.model]
        channels = [name for i in range(count) if (name := channel_name(amplifier.id, i)) in names]
        told += [amplifier.id] if len(channels) == count > 1 else channels
    here = {amplifier.id for amplifier in rig.amplifiers()}
    gone = [name for name in names if "." in name and name.rpartition(".")[0] not in here]
    return (*told, *gone)


def _channels(rig: Rig, name: str) -> Iterator[str]:
    """The channels that fail with a channel, an amplifier or a rack."""
    if "." in name:
        yield name
        return
    counts = {model.id: model.channels for model in rig.equipment.amplifiers}
    found = [rack for rack in rig.racks if rack.id == name] or [
        rack for rack in rig.racks if any(amplifier.id == name for amplifier in rack.amplifiers)
    ]
    if not found:
        raise EditError(
            f'Nothing called "{name}" can fail. Name a channel such as "A1.2", an amplifier, a rack or a circuit.'
        )
    for amplifier in found[0].amplifiers:
        if name in (amplifier.id, found[0].id):
            yield from (channel_name(amplifier.id, i) for i in range(counts[amplifier.model]))
