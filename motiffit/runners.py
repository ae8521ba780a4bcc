"""Who does the work on a pile's photos: this process, or processes that may die one by one.

A runner takes tasks lazily and yields what came of them in the order in which they finish. Only
its caller prints, counts and writes.
"""

import os
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from multiprocessing import get_context
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess
from time import monotonic
from types import TracebackType
from typing import Protocol, Self

from motiffit.errors import FileError
from motiffit.interrupts import deaf_start, stay_deaf
from motiffit.task import Done, Task, give_up

__all__ = ["GIVE_UP_S", "ProcessRunner", "Runner", "SerialRunner", "available_cores", "run_task"]

GIVE_UP_S = 300.0
"""A photo takes a second or so, a huge one ten: after this it will never end."""

_TRIES = 2  # a worker may be killed by accident; a photo that takes two with it is to blame

_ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")

Work = Callable[[Task], Done]


def run_task(task: Task) -> Done:
    """Size a photo and draw its pictures; whatever goes wrong becomes a refusal of this photo."""
    try:
        # imported here so that a parent, which measures nothing, never loads OpenCV
        from motiffit.working import size_and_draw

        return size_and_draw(task)
    except MemoryError:
        return give_up(task, "out-of-memory")
    except Exception as error:  # a fault of ours must not end the other photos' work
        return give_up(task, "program-fault", reason=f"{type(error).__name__}: {error}"[:200])


class Runner(Protocol):
    """Anything that works through tasks."""

    def run(self, tasks: Iterable[Task]) -> Iterator[Done]:
        """Yield what came of each task, as it comes."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class SerialRunner:
    """Works in this process, one photo after another."""

    work: Work = run_task

    def run(self, tasks: Iterable[Task]) -> Iterator[Done]:
        """Yield what came of each task, in order."""
        yield from map(self.work, tasks)


@dataclass(slots=True, eq=False)
class _Worker:
    """A process, the line to it, and what it is working on."""

    process: BaseProcess
    line: Connection
    task: Task | None = None
    since: float = 0.0

    def give(self, task: Task) -> None:
        """Hand over a task; a worker that died meanwhile is found out when its line is read."""
        self.task, self.since = task, monotonic()
        try:
            self.line.send(task)
        except OSError:
            self.process.kill()

    def end(self) -> None:
        """Stop the process at once."""
        self.process.kill()
        self.process.join()
        self.process.close()
        self.line.close()


@dataclass(slots=True)
class ProcessRunner:
    """Works in several processes, started as they are needed and kept until closed.

    Each has one photo at a time, so that it is known which photo was in hand when one dies; that
    photo is tried once more and then refused. Use as a context manager.

    Attributes
    ----------
    jobs
        How many processes.
    work
        What each does with a task; importable by name.
    give_up_s
        After how long a photo is given up and its process ended.
    """

    jobs: int
    work: Work = run_task
    give_up_s: float = GIVE_UP_S
    _workers: list[_Worker] = field(default_factory=list)

    def __enter__(self) -> Self:
        """Start nothing yet."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """End every process at once, whatever it does."""
        while self._workers:
            self._workers.pop().end()

    def run(self, tasks: Iterable[Task]) -> Iterator[Done]:
        """Yield what came of each task, as it comes."""
        source, again, tries = iter(tasks), list[Task](), dict[str, int]()
        while True:
            self._hand_out(source, again)
            busy = [worker for worker in self._workers if worker.task is not None]
            if not busy:
                return
            for worker in self._ready(busy):
                task = worker.task
                assert task is not None
                done = self._receive(worker)
                if done is not None:
                    yield done
                elif (given_up := self._blame(worker, task, tries)) is not None:
                    yield given_up
                else:
                    again.append(task)

    def _hand_out(self, source: Iterator[Task], again: list[Task]) -> None:
        """Give every idle worker a task, and start workers while there are more tasks."""
        idle = [worker for worker in self._workers if worker.task is None]
        while idle or len(self._workers) < self.jobs:
            task = again.pop() if again else next(source, None)
            if task is None:
                return
            worker = idle.pop() if idle else self._start()
            worker.give(task)

    def _start(self) -> _Worker:
        """Start a process."""
        # spawn: a fork would copy OpenCV's threads and whatever locks they hold
        context = get_context("spawn")
        ours, theirs = context.Pipe()
        process = context.Process(target=_serve, args=(theirs, self.work), daemon=True)
        try:
            with _one_thread(), deaf_start():
                process.start()
        except OSError as error:  # too many processes, or the folder we were started in is gone
            raise FileError(f"cannot start a process: {error.strerror}") from error
        theirs.close()
        worker = _Worker(process=process, line=ours)
        self._workers.append(worker)
        return worker

    def _ready(self, busy: list[_Worker]) -> list[_Worker]:
        """Wait for workers that answered, died or took too long."""
        limit = min(worker.since for worker in busy) + self.give_up_s
        lines = wait([worker.line for worker in busy], timeout=max(limit - monotonic(), 0.0))
        late = monotonic() - self.give_up_s
        return [worker for worker in busy if worker.line in lines or worker.since <= late]

    def _receive(self, worker: _Worker) -> Done | None:
        """Return a worker's answer; without one its process is ended."""
        try:
            if worker.line.poll():
                done: Done = worker.line.recv()
                worker.task = None
                return done
        except (EOFError, OSError):
            pass  # it died, perhaps in the middle of its answer
        self._workers.remove(worker)
        worker.end()
        return None

    def _blame(self, worker: _Worker, task: Task, tries: dict[str, int]) -> Done | None:
        """Refuse a photo that takes too long or kills workers; None to try it again."""
        if monotonic() - worker.since >= self.give_up_s:
            return give_up(task, "took-too-long", seconds=self.give_up_s)
        tries[task.photo] = tries.get(task.photo, 0) + 1
        return give_up(task, "worker-died") if tries[task.photo] >= _TRIES else None


def available_cores() -> int:
    """Return how many cores this process may use."""
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:  # not on Windows and macOS
        return os.cpu_count() or 1


def _serve(line: Connection, work: Work) -> None:
    """Work through tasks until the line closes, as it does when the parent ends or is killed."""
    stay_deaf()
    while True:
        try:
            line.send(work(line.recv()))
        except (EOFError, OSError):
            return


@contextmanager
def _one_thread() -> Iterator[None]:
    """Start processes with one thread per library."""
    before = {name: os.environ.get(name) for name in _ONE_THREAD}
    os.environ.update(dict.fromkeys(_ONE_THREAD, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value
