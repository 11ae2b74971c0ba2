"""The moves of a plan divided into jobs: those that have to be done together, because they share what is silent for them.

Says what is silent or off for each move of a job; in which order a job is done is `sequence`'s.
"""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from rackwright.engine.recovery import criteria
from rackwright.engine.recovery.transition import Transition
from rackwright.model.night import Rewiring


class Piece(NamedTuple):
    """A move, and what is silent for it."""

    move: Rewiring
    channels: tuple[str, ...] = ()
    """Those that are handled."""
    off: tuple[str, ...] = ()
    """Amplifiers that are switched off."""


class Job(NamedTuple):
    """Moves that have to be done together, and what comes back with them."""

    pieces: tuple[Piece, ...]
    channels: tuple[str, ...] = ()
    """Those that are handled, or come back."""
    off: tuple[str, ...] = ()
    """Amplifiers that are switched off for it, or come back."""

    @property
    def moves(self) -> list[Rewiring]:
        """Its moves."""
        return [piece.move for piece in self.pieces]


def jobs(change: Transition, moves: Sequence[Rewiring], here: str) -> list[Job]:
    """The jobs of those moves, and of what comes back without one, in the order in which they are done.

    Where the crew stands first, then in the rig's order, so that no place is visited twice; there what comes back with no
    move before what is moved onto it, what silences nothing before what does, and what is quickly done first.
    """
    circuits = [move for move in moves if move.kind == "circuit"]
    exchanged = exchanges(moves)
    parts = []
    for move in moves:
        piece = Piece(move, change.handled(move), change.off(move))
        tokens = _tokens(change, piece)
        if move in circuits:
            tokens |= {move.old, move.new} & exchanged
        parts.append((Job((piece,), piece.channels, piece.off), tokens))
    for amplifier in change.in_order(change.was.off - change.will.off, change.now.index.amplifiers):
        parts.append((Job((), (), (amplifier,)), {amplifier}))
    for channel in change.in_order(change.was.down - change.will.down, change.now.branches):
        parts.append((Job((), (channel,)), {channel}))
    racks = (*change.then.index.rig.racks, *change.now.index.rig.racks)
    places = [here, *dict.fromkeys(rack.id for rack in racks)]
    return sorted(_merged(parts), key=lambda job: _order(change, job, places))


def exchanges(moves: Sequence[Rewiring]) -> set[str]:
    """Circuits that are left before they take another amplifier on."""
    circuits = [move for move in moves if move.kind == "circuit"]
    return {move.old for move in circuits} & {move.new for move in circuits}


def _tokens(change: Transition, piece: Piece) -> set[str]:
    """What moves share that have to be done together."""
    move = piece.move
    tokens = {*piece.channels, *piece.off, *(f"spare {name}" for name in (move.by, move.frees) if name)}
    for amplifier in piece.off:
        tokens |= {b.id for b in change.then.branches.values() if b.amplifier.id == amplifier}
    tokens = {token for token in tokens if not change.stays_dead(token)}
    if move.kind in ("limiter rms", "limiter peak"):
        tokens |= {
            f"output {move.at}",
            *change.on_feed_after[move.at],
            *change.on_feed[move.at],
        }
    if move.kind == "trim":
        tokens.add(move.at)
    if move.kind == "plug":
        tokens |= {f"socket {move.old}", f"socket {move.new}"}
    return tokens


def _merged(parts: Sequence[tuple[Job, set[str]]]) -> Iterator[Job]:
    """The jobs, those that share a token made one."""
    groups: list[tuple[list[Job], set[str]]] = []
    for job, tokens in parts:
        near = [group for group in groups if group[1] & tokens]
        shared = tokens.union(*(group[1] for group in near))
        groups = [group for group in groups if group not in near]
        groups.append(([*(each for group in near for each in group[0]), job], shared))
    for made, _ in groups:
        yield Job(
            tuple(piece for job in made for piece in job.pieces),
            tuple(dict.fromkeys(name for job in made for name in job.channels)),
            tuple(dict.fromkeys(name for job in made for name in job.off)),
        )


def _order(change: Transition, job: Job, places: Sequence[str]) -> tuple[int, ...]:
    at = [change.say.place(move)[0] for move in job.moves]
    at += [change.say.rack_of(change.say.amplifier(name))[0] for name in (*job.off, *job.channels)]
    found = sorted({places.index(place) if place in places else len(places) for place in at})
    times = change.then.index.rig.targets.times
    took = round(sum([criteria.time_of(times, move) for move in job.moves]))
    silent = any(silences(change, piece) for piece in job.pieces)
    return (found[0], bool(job.pieces), silent, took, *found[1:])


def silences(change: Transition, piece: Piece) -> bool:
    """Whether something that plays is silent for a move."""
    off = (name for amplifier in piece.off for name in change.of_amplifier(amplifier))
    return any(map(change.playing, (*piece.channels, *off)))


def arranged(pieces: Sequence[Piece], change: Transition) -> list[Piece]:
    """The moves of a job place by place, there what silences nothing first; a plug goes where another is only after that has left."""
    places = list(dict.fromkeys(change.say.place(piece.move)[0] for piece in pieces))
    ordered = sorted(
        pieces, key=lambda piece: (places.index(change.say.place(piece.move)[0]), silences(change, piece))
    )
    kept: list[Piece] = []
    while ordered:
        busy = {piece.move.old for piece in ordered if piece.move.kind == "plug"}
        free = [t for t in ordered if t.move.kind != "plug" or t.move.new not in busy - {t.move.old}]
        chosen = (free or ordered)[0]
        ordered.remove(chosen)
        kept.append(chosen)
    return kept
