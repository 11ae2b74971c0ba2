"""How a step of a list is read out: every thing by the name and the place that somebody at the rack finds it by.

Words survive a radio: what, from where, to where. Holds no order of steps.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence

from rackwright.engine import protection
from rackwright.engine.assess import Assessed
from rackwright.model.index import pole_or_none
from rackwright.model.lines import Line
from rackwright.model.night import Rewiring
from rackwright.model.racks import Amplifier
from rackwright.model.rig import FRONT_OF_HOUSE
from rackwright.units import LimiterSetting, floored, reading, typeset
from rackwright.units.wording import few, listed

MOST_HEARD = 4
"""Named of what goes quiet or plays again."""
SONG_GAP = 30.0
"""s of silence that a gap between songs covers at most: common practice, no source."""


class Wording:
    """The words for what is done between two rigs."""

    def __init__(self, then: Assessed, now: Assessed) -> None:
        self.then, self.now = then, now

    def amplifier(self, name: str) -> str:
        """The amplifier that an amplifier or a channel by that name is, or is of."""
        for state in (self.then, self.now):
            if name in state.index.amplifiers:
                return name
            if at := state.index.channels.get(name):
                return at.amplifier
        return name

    def place(self, move: Rewiring) -> tuple[str, str]:
        """Where a move is done, and how that is read out."""
        match move.kind:
            case "repatch":
                return self.rack_of(self._socket(move))
            case "plug":
                return self._end(move.new)
            case "unplug" | "plug in" if socket := self.socket_of(move):
                return self.rack_of(socket)
            case "line" | "unplug" | "plug in":
                return self._stand(move.at)
            case "limiter rms" | "limiter peak":
                return FRONT_OF_HOUSE, FRONT_OF_HOUSE
            case _:
                return self.rack_of(self.amplifier(move.at))

    def socket_of(self, move: Rewiring) -> str:
        """The socket that a line starts from that is pulled or plugged in again, so that nobody climbs; empty where it is a link."""
        source = move.old or move.new
        return source if source in self.now.index.sockets else ""

    def _socket(self, move: Rewiring) -> str:
        return self.then.index.pole_pairs[move.at].socket

    def _end(self, name: str) -> tuple[str, str]:
        return self.rack_of(name) if name in self.now.index.sockets else self._stand(name)

    def rack_of(self, name: str) -> tuple[str, str]:
        """The rack that an amplifier or a socket is in, and how that is read out."""
        rack = next((s.index.rack_of[name] for s in (self.then, self.now) if name in s.index.rack_of), None)
        if rack is None:
            return name, name
        return rack.id, f"rack {rack.id}"

    def _stand(self, cabinet: str) -> tuple[str, str]:
        """Where a cabinet stands."""
        found = self.now.index.cabinets[cabinet]
        position = found.position.partition(",")[0].strip()
        return position or cabinet, position or f"at {cabinet}"

    def words(self, move: Rewiring, settings: Sequence[Rewiring] = (), plays: bool = False) -> str:
        """What to do for a move, verb first; `settings` are the trims that an amplifier is put in with, `plays` is said of a trim's
        channel."""
        index = self.now.index
        match move.kind:
            case "repatch":
                return self._repatch_words(move)
            case "plug":
                line = _cable(index.lines[move.at])
                return f"Move the plug of line {line} from socket {move.old} to socket {move.new}."
            case "line":
                return self._line_words(move)
            case "unplug":
                rest = [each.to for each in self.then.index.lines_from.get(move.at, [])]
                too = f" {listed(rest)} behind it goes silent too." if rest else ""
                return f"Pull {self._plug_of(move)} out of {self._plugged(move)}. Let its end touch nothing.{too}"
            case "plug in":
                return f"Plug {self._plug_of(move)} into {self._plugged(move)} again."
            case "feed":
                return self._feed_words(move)
            case "trim":
                return self._trim_words(move, plays)
            case "mode":
                first = index.channels[move.at]
                pair = f"channels {first.channel + 1}+{first.channel + 2}"
                return f"Set {pair} of {self.unit(first.amplifier)} from {move.old} to {move.new}."
            case "amplifier":
                kept = (
                    f" and mode as it was, {self._trims(settings)}"
                    if settings
                    else ", trim and mode as it was"
                )
                return self._amplifier_words(move, f": every lead{kept}")
            case _:
                return self._limiter_words(move)

    def _trim_words(self, move: Rewiring, plays: bool) -> str:
        set_to = f"Set the trim of channel {move.at} ({self.slot(self.amplifier(move.at))}) from {typeset(move.old)} to {typeset(move.new)}"
        was, now = (state.branches.get(move.at) for state in (self.then, self.now))
        up = was and now and now.trim > was.trim
        return f"{set_to}{', slowly: it plays. Watch its clip and limiter lamps' if plays and up else ''}."

    def _plug_of(self, move: Rewiring) -> str:
        line = self.then.index.line_to.get(move.at)
        to = f" to {self._position(move.at)}," if self.socket_of(move) else ""
        return f"line {line.id}{to}" if line else "its plug"

    def _plugged(self, move: Rewiring) -> str:
        socket = self.socket_of(move)
        return f"socket {socket}" if socket else self._position(move.at)

    def _position(self, cabinet: str) -> str:
        position = self.now.index.cabinets[cabinet].position
        return f"{cabinet}, {position}" if position else cabinet

    def _repatch_words(self, move: Rewiring) -> str:
        pair = self.then.index.pole_pairs[move.at]
        what = f"pole pair {pair.pair + 1} of socket {pair.socket}"
        old, new = (pole_or_none(text) for text in (move.old, move.new))
        to = [line.to for line in self.now.index.lines_from.get(pair.socket, [])]
        drives = f" It leads to {listed(to)}." if to else ""
        came = "" if old is None else f" from channel {old.name}" + (", reversed," if old.sign < 0 else "")
        if new is None:
            return f"Take {what} off{came.removeprefix(' from')}.{drives}"
        sign = ", reversed" if new.sign < 0 else ""
        verb = "Re-patch" if old else "Patch"
        return f"{verb} {what}{came} to channel {new.name}{sign} ({self.slot(new.amplifier)}).{drives}"

    def _amplifier_words(self, move: Rewiring, how: str) -> str:
        leave = "Leave its mains lead unplugged."
        if move.frees:
            out = f"the spare {move.old} out of {self.slot(move.at)}"
            return f"Take {out} and put {move.at}, the {move.new}, back in{how}. {leave}"
        spare = f"the spare {move.new}{self._case(move.by)}" if move.by else move.new
        return f"Take {self.unit(move.at)}, now {move.old}, out and put in {spare}{how}. {leave}"

    def _trims(self, settings: Sequence[Rewiring]) -> str:
        """Trims as they are to be set: one level for all of them where that is so."""
        if len({move.new for move in settings}) == 1:
            return f"trims of {listed([move.at for move in settings])} at {typeset(settings[0].new)}"
        return f"trims of {listed([f'{move.at} at {typeset(move.new)}' for move in settings])}"

    def preparing(self, move: Rewiring, settings: Sequence[Rewiring] = ()) -> str:
        """What is made ready for a move, before anything is silent for it."""
        if move.line is not None:
            end, spare = self._near_end(move.line), f"a spare {move.by}{self._case(move.by)}"
            return f"Lay {spare} as line {move.line.id} from {move.at} to {end}, plugged in at neither end. Look whether it reaches."
        what = f"{move.at}, the {move.new}," if move.frees else f"the spare {move.new}{self._case(move.by)}"
        like = f"the {move.old} there" if move.frees else move.at
        but = f", but {self._trims(settings)}" if settings else ""
        return f"Bring {what} to {self.slot(move.at)} and set it as {like} is set{but}."

    def words_ready(self, move: Rewiring) -> str:
        """What to do for a move that is made ready, verb first."""
        if (new := move.line) is None:
            return self._amplifier_words(move, ", each lead where it was")
        old = self.then.index.line_to.get(move.at)
        out = ""
        if old and old.source == new.source:  # its place is taken, and no end of the old cable is left
            out = f"Pull line {old.id} out of {old.source} and {move.at} first. Then plug"
        elif old:
            out = f"Pull line {old.id} out of {move.at} first, and let its end touch nothing. Then plug"
        return f"{out or 'Plug'} line {new.id} into {self._near_end(new)} and into {move.at}."

    def _near_end(self, line: Line) -> str:
        return (
            f"socket {line.source}" if line.source in self.now.index.sockets else f"the link of {line.source}"
        )

    def _line_words(self, move: Rewiring) -> str:
        old, new = self.then.index.line_to.get(move.at), move.line
        came = f"line {old.id} out of {move.at}" if old else ""
        if new is None:
            return f"Pull {came}. Let its end touch nothing."
        if move.by:
            spare, end = f"{move.by}{self._case(move.by)}", self._near_end(new)
            out = self.words_ready(move).partition(" Then plug")[0] if old else ""
            return f"Run a spare {spare} as line {new.id} from {end} to {move.at}.{f' {out}' if out else ''} Look first whether it reaches."
        if old and old.source == new.source:
            came = f"line {old.id} out of {old.source} and {move.at}"
        back = " and put that cable back to the spares" if move.frees else ""
        out = f"Pull {came}{back}. " if old else ""
        return f"{out}Plug line {_cable(new)} from {self._near_end(new)} into {move.at} again."

    def _case(self, spare: str) -> str:
        case = next((each.case for each in self.then.index.rig.spares if each.id == spare), "")
        return f" from case {case}" if case else ""

    def _feed_words(self, move: Rewiring) -> str:
        at = self.now.index.channels[move.at]
        amplifier = self.now.index.amplifiers[at.amplifier]
        socket = amplifier.channel(at.channel).input or f"input {at.channel + 1}"
        of = f"{socket} of {self.unit(at.amplifier)}"
        if not move.new:
            return f"Unplug {self.output(move.old)} from {of}."
        instead = f" instead of {self.output(move.old)}" if move.old else ""
        return f"Plug {self.output(move.new)} into {of}{instead}."

    def _limiter_words(self, move: Rewiring) -> str:
        what = "rms" if move.kind == "limiter rms" else "peak"
        if not move.new:
            return f"Set the {what} limiter of {self.output(move.at)} back to none."
        setting, feed = LimiterSetting.parse(move.new), self.now.index.feeds[move.at]
        set_to = f"Set the {what} limiter of {self.output(move.at)} to"
        unit = f"dBu {feed.limiter_peak_scale}" if what == "peak" else "dBu"
        if setting.in_dbu:
            return f"{set_to} {reading(setting.value, unit)}."
        on = [b for b in self.now.branches.values() if b.live and b.sections and b.result.feed == move.at]
        if not on:
            return f"{set_to} {setting}."
        at = feed.limiter_at or max(on, key=lambda branch: branch.gain).id
        level = protection.input_level(setting.value, self.now.branches[at].gain)
        if unit == "dBu sine":
            level = protection.sine_level(level)
        return f"{set_to} {reading(floored(level), unit)} ({setting} at channel {at})."

    def output(self, feed: str) -> str:
        """A processor output by name."""
        named = self.then.index.feeds.get(feed) or self.now.index.feeds.get(feed)
        return (
            f"{named.output} (feed {feed})"
            if named and named.output
            else f"the processor output of feed {feed}"
        )

    def unit(self, amplifier: str) -> str:
        """An amplifier and where in its rack it is."""
        found: Amplifier | None = self.now.index.amplifiers.get(amplifier) or self.then.index.amplifiers.get(
            amplifier
        )
        return f"{amplifier} (unit {found.unit})" if found else amplifier

    def slot(self, amplifier: str) -> str:
        """Where in its rack an amplifier is."""
        found = self.now.index.amplifiers.get(amplifier) or self.then.index.amplifiers.get(amplifier)
        return f"unit {found.unit}" if found else ""


def taken_off(channel: str, pairs: Mapping[int, Sequence[str]], lines: Sequence[str]) -> list[str]:
    """Orders by which a channel's load is taken off it: pole pairs, each of which sockets, and lines to unplug."""
    orders = [
        f"take pole pair {pair + 1} of socket{'' if len(sockets) == 1 else 's'} {listed(sockets)} off {channel}"
        for pair, sockets in pairs.items()
    ]
    if lines:
        one = len(lines) == 1
        orders.append(
            f"unplug line{'' if one else 's'} {listed(lines)} at {'its socket' if one else 'their sockets'}"
        )
    return orders


def _cable(line: Line) -> str:
    return f"{line.id} ({line.cable} {line.length})"


def channels(names: Sequence[str]) -> str:
    """`channels A1.1 and A1.2`."""
    return f"channel{'' if len(names) == 1 else 's'} {listed(names)}"


def length(seconds: float) -> str:
    """A time as a person says it."""
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes} min {rest} s" if minutes and rest else f"{minutes} min" if minutes else f"{rest} s"


def gap(silent_for: float) -> str:
    """When something may be silent for so many s; what stays so until the return goes silent in a moment, 0 s."""
    return "in a song gap" if silent_for <= SONG_GAP else "between acts or in the interval"


def as_called(assessed: Assessed, sections: Sequence[str], most: int = MOST_HEARD) -> str:
    """Sections as a crew names them: a cabinet where all of it is meant."""
    wanted = dict.fromkeys(sections)
    whole: dict[str, int] = defaultdict(int)
    for result in assessed.sections.values():
        whole[result.cabinet] += 1
    by_cabinet: dict[str, list[str]] = defaultdict(list)
    for name in wanted:
        by_cabinet[assessed.sections[name].cabinet].append(name)
    names = [
        name
        for cabinet, own in by_cabinet.items()
        for name in ([cabinet] if len(own) == whole[cabinet] else own)
    ]
    return few(names, most)
