"""What undo and redo go back to: a rig for each edit, for a rig is a value."""

from collections.abc import Iterable, Sequence

from rackwright.model.rig import Rig
from rackwright.store.safe.undo_log import Moment


class History:
    """The edits that were made, and those undone since."""

    def __init__(self, past: Iterable[Moment] = (), future: Iterable[Moment] = ()) -> None:
        self._past = list(past)
        self._future = list(future)

    @property
    def undoes(self) -> Moment | None:
        """What undo would undo."""
        return self._past[-1] if self._past else None

    @property
    def redoes(self) -> Moment | None:
        """What redo would make again."""
        return self._future[-1] if self._future else None

    @property
    def all(self) -> tuple[Sequence[Moment], Sequence[Moment]]:
        """The edits made and those undone, each the latest last."""
        return self._past, self._future

    @property
    def begun(self) -> bool:
        """Whether an edit was ever made, undone or not."""
        return bool(self._past or self._future)

    def states(self, now: Rig) -> list[Moment]:
        """Every rig there was and is, the oldest first, each with the edit that led to it; the first of no edit."""
        past, future = self._past, self._future[::-1]
        rigs = [*(moment.rig for moment in past), now, *(moment.rig for moment in future)]
        labelled = (Moment("", now), *past, *future)
        return [each._replace(rig=rig) for each, rig in zip(labelled, rigs, strict=True)]

    @property
    def here(self) -> int:
        """Which of the states is the rig as it is now."""
        return len(self._past)

    def between(self, by: int) -> Sequence[Moment]:
        """What undoing so many edits undoes, or, below 0, redoing so many makes again; fewer where there are not so many."""
        return (self._past[::-1] if by > 0 else self._future[::-1])[: abs(by)]

    def edited(self, before: Moment) -> None:
        """Note an edit; what was undone is forgotten."""
        self._past.append(before)
        self._future.clear()

    def undo(self, now: Rig) -> Rig:
        """The rig before the last edit, `now` kept for redo. Raises IndexError where there was none."""
        return self._step(self._past, self._future, now)

    def redo(self, now: Rig) -> Rig:
        """The rig as the edit last undone made it. Raises IndexError where none was."""
        return self._step(self._future, self._past, now)

    def _step(self, source: list[Moment], target: list[Moment], now: Rig) -> Rig:
        was = source[-1].was()
        target.append(source.pop()._replace(rig=now))
        return was
