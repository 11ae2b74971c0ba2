"""A rehearsal in several processes, one for each processor: each answers what it is asked of the rig that it was sent.

`python -m rackwright.workers` is such a process. It ends as soon as whoever asks has ended, however that was, and knows no
terminal. What none of them answers is worked out by whoever asks: that needs no process, and what is wrong is raised there.
"""

import gc
import os
import pickle
import subprocess
import sys
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from queue import SimpleQueue
from select import select
from typing import Any

from rackwright.engine.assess import assess
from rackwright.engine.recovery.every_failure import A, Q, Rehearser

MOST = 8
"""Processes; each takes up to 90 MB."""
SOON = 0.5
"""Seconds of the processor that a process takes to start: what is worked out in them needs none."""
MANY = 40
"""Questions that surely take longer than that."""
LOOK = 0.1
"""Seconds from one look whether anybody still waits for the rehearsal to the next."""
SELDOM = 50_000
"""New objects after which one looks for what nobody needs any more: looking more often took 6 % of the time."""
NICE = 10
"""By how much they stand back behind what a person waits for."""


def processors() -> int:
    """Those that a rehearsal may have: of more than two one is left to the console."""
    there = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    return min(there - (there > 2), MOST)


class Workers:
    """The processes of one rehearsal, for as long as it is worked at; none until it takes longer than to start them."""

    def __init__(self, count: int | None = None, soon: float = SOON) -> None:
        self.count, self.soon = processors() if count is None else count, soon
        self.running: list[_Worker] = []

    def __enter__(self) -> "Workers":
        return self

    def __exit__(self, *_: object) -> None:
        for worker in [*self.running]:
            self._end(worker)

    def answers(
        self, answer: Callable[[Rehearser, Q], A], rehearser: Rehearser, asked: Sequence[Q]
    ) -> Iterator[tuple[int, A]]:
        """What a function of a rehearser answers to each question, with its number, as it is known."""
        todo = deque(enumerate(asked))
        soon = 0.0 if len(todo) >= MANY else self.soon
        begun = time.thread_time()
        while todo:
            if not self.running and self.count and time.thread_time() - begun >= soon:
                self._start(rehearser)
            if self.running:
                yield from self._answered(answer, todo, rehearser.between)
            else:
                number, each = todo.popleft()
                yield number, answer(rehearser, each)

    def _start(self, rehearser: Rehearser) -> None:
        with suppress(OSError):  # there may be no more processes
            for _ in range(self.count):
                self.running.append(_Worker())
        for worker in [*self.running]:
            self._ask(worker, rehearser.rig)
        self.count = len(self.running)

    def _answered(
        self, answer: Callable[[Rehearser, Q], A], todo: deque[tuple[int, Q]], between: Callable[[], None]
    ) -> Iterator[tuple[int, A]]:
        """What the processes answer, until all is; less where none is left."""
        busy: dict[_Worker, tuple[int, Q]] = {}
        found: list[tuple[int, A]] = []
        while True:
            for worker in [worker for worker in self.running if worker not in busy]:
                if todo and self._ask(worker, (answer, todo[0][1])):
                    busy[worker] = todo.popleft()
            yield from found
            found.clear()
            if not busy:
                return
            between()
            for worker in select([*busy], [], [], LOOK)[0]:
                number, each = busy.pop(worker)
                try:
                    found.append((number, worker.answer()))
                except Exception:  # it has ended, perhaps in the midst of an answer, or is of another version
                    todo.append((number, each))
                    self._end(worker)

    def _ask(self, worker: "_Worker", what: object) -> bool:
        """Whether a process takes a question."""
        try:
            worker.ask(what)
        except OSError:
            self._end(worker)
            return False
        return True

    def _end(self, worker: "_Worker") -> None:
        self.running.remove(worker)
        self.count = 0
        worker.end()


class _Worker:
    """A process, as it is seen from outside."""

    def __init__(self) -> None:
        command = (sys.executable, "-P", "-m", __spec__.name)
        pipe, nothing = subprocess.PIPE, subprocess.DEVNULL
        self.process = subprocess.Popen(
            command, stdin=pipe, stdout=pipe, stderr=nothing, start_new_session=True
        )  # a terminal's Ctrl+C is none of its business
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.questions, self.answers = self.process.stdin, self.process.stdout

    def fileno(self) -> int:
        return self.answers.fileno()

    def ask(self, what: object) -> None:
        """Send it the rig, or a question. Raises OSError where it has ended."""
        pickle.dump(what, self.questions)
        self.questions.flush()

    def answer(self) -> Any:
        """What it answers. Raises an error where it has ended."""
        return pickle.load(self.answers)

    def end(self) -> None:
        """End it at once."""
        self.process.kill()
        self.process.wait()
        for pipe in (self.questions, self.answers):
            with suppress(OSError):  # what of a question is still in it has nowhere to go
                pipe.close()


def main() -> None:
    """Answer what is asked, until nobody is there any more who asks."""
    with suppress(OSError):
        os.nice(NICE)
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # nothing else comes between the answers
    asked: SimpleQueue[Any] = SimpleQueue()
    threading.Thread(target=_listen, args=(asked,), daemon=True).start()
    try:
        rehearser = Rehearser(assess(asked.get()))
        gc.freeze()
        gc.set_threshold(SELDOM)
        while True:
            answer, each = asked.get()
            pickle.dump(answer(rehearser, each), answers)
            answers.flush()
    finally:
        os._exit(1)


def _listen(asked: SimpleQueue[Any]) -> None:
    """Take questions, also while one is worked at; when there can be no more, end it."""
    try:
        while True:
            asked.put(pickle.load(sys.stdin.buffer))
    finally:
        os._exit(0)


if __name__ == "__main__":
    main()
