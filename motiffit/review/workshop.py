"""Work that decodes pictures, done in processes of its own, each job within a time limit.

A photo from outside may hang or crash whatever decodes it; then its process is ended, the job fails
with a message, and the next job gets a fresh process.
"""

import queue
import re
import threading
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass, field
from itertools import count
from multiprocessing import get_context
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from typing import Any, TypeVar

from motiffit.errors import Refusal
from motiffit.interrupts import deaf_start, stay_deaf

__all__ = ["JOB_LIMIT_S", "Workshop"]

JOB_LIMIT_S = 60.0
"""A photo takes a second or two, the largest ten: after this it will never end."""

_START_S = 60.0  # to load the libraries, which is not the photo's fault

_PATH = re.compile(r"""(?:[A-Za-z]:)?[/\\][^\s'"]*""")
"""What looks like a path in an error's words: nobody who sees the page need know it."""

T = TypeVar("T")


@dataclass(order=True, slots=True)
class _Job:
    """A call to make in a worker; those that a person waits for come first."""

    rank: tuple[int, int]
    call: Callable[..., Any] | None = field(compare=False)
    arguments: tuple[Any, ...] = field(compare=False, default=())
    answer: Future[Any] = field(compare=False, default_factory=Future)


class Workshop:
    """A few worker processes, started when first needed.

    Parameters
    ----------
    hands
        How many processes.
    limit_s
        After how long a job is given up.
    """

    def __init__(self, hands: int = 2, *, limit_s: float = JOB_LIMIT_S) -> None:
        self._limit_s = limit_s
        self._jobs: queue.PriorityQueue[_Job] = queue.PriorityQueue()
        self._numbers = count()
        self._closing = False
        self._threads = [threading.Thread(target=self._work, daemon=True) for _ in range(hands)]
        for thread in self._threads:
            thread.start()

    def give(self, call: Callable[..., T], *arguments: Any, is_urgent: bool = True) -> Future[T]:
        """Have a function, importable by name, called in a worker.

        The future fails with a `Refusal` when the job takes too long, kills its process or runs out
        of memory, and with whatever the function itself raises.
        """
        job = _Job((0 if is_urgent else 1, next(self._numbers)), call, arguments)
        self._jobs.put(job)
        return job.answer

    def close(self) -> None:
        """End all processes at once, whatever they do."""
        self._closing = True
        for _ in self._threads:
            self._jobs.put(_Job((-1, next(self._numbers)), None))
        for thread in self._threads:
            thread.join()

    def _work(self) -> None:
        """Take jobs, one at a time, until closed."""
        worker: _Worker | None = None
        while (job := self._jobs.get()).call is not None:
            if not job.answer.set_running_or_notify_cancel():
                continue
            try:
                worker = worker or _Worker()
                job.answer.set_result(self._ask(worker, job))
            except TimeoutError:  # before OSError, of which it is one
                _end(worker)
                worker = None
                job.answer.set_exception(Refusal("took-too-long", seconds=self._limit_s))
            except (EOFError, OSError):
                _end(worker)
                worker = None
                job.answer.set_exception(Refusal("worker-died"))
            except Exception as error:  # the function's own
                job.answer.set_exception(error)
        _end(worker)

    def _ask(self, worker: "_Worker", job: _Job) -> Any:
        """Send a job to a worker and wait for its answer."""
        worker.line.send((job.call, job.arguments))
        waited_s, step_s = 0.0, 0.25
        while not worker.line.poll(step_s):
            waited_s += step_s
            if waited_s >= self._limit_s:
                raise TimeoutError
            if self._closing:
                raise EOFError
        is_result, answer = worker.line.recv()
        if is_result:
            return answer
        raise _restored(answer)


class _Worker:
    """A process and the line to it."""

    def __init__(self) -> None:
        context = get_context("spawn")  # a fork would copy OpenCV's threads and their locks
        self.line, theirs = context.Pipe()
        self._process: BaseProcess = context.Process(target=_serve, args=(theirs,), daemon=True)
        with deaf_start():
            self._process.start()
        theirs.close()
        if not self.line.poll(_START_S):
            raise EOFError
        self.line.recv()

    def end(self) -> None:
        """Stop the process at once."""
        self._process.kill()
        self._process.join()
        self._process.close()
        self.line.close()


def _end(worker: _Worker | None) -> None:
    """Stop a worker, if there is one."""
    if worker is not None:
        worker.end()


def _serve(line: Connection) -> None:
    """Make the calls that come in, until the line closes."""
    stay_deaf()
    line.send("ready")
    while True:
        try:
            call, arguments = line.recv()
        except (EOFError, OSError):
            return
        try:
            answer = (True, call(*arguments))
        except Exception as error:
            answer = (False, _flattened(error))
        try:
            line.send(answer)
        except OSError:
            return


def _flattened(error: Exception) -> tuple[str, dict[str, object]]:
    """Return an error as plain values; exceptions of libraries do not always survive the line."""
    if isinstance(error, Refusal):
        return error.code, error.details
    if isinstance(error, MemoryError):
        return "out-of-memory", {}
    words = error.strerror if isinstance(error, OSError) else _PATH.sub("...", str(error))
    return "program-fault", {"reason": f"{type(error).__name__}: {words}"[:200]}


def _restored(flat: tuple[str, dict[str, object]]) -> Refusal:
    """Return the error that `_flattened` took apart."""
    code, details = flat
    return Refusal(code, **details)
