"""The same work on other machines: a Dask scheduler hands the photos to its workers.

Every worker needs this program in the same version, and the folder under the same path. What a
worker returns is kept here, as with processes of this machine.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from importlib import import_module
from itertools import islice
from types import TracebackType
from typing import Any, Self

from motiffit.errors import FileError, UsageError
from motiffit.runners import Work, run_task
from motiffit.task import Done, Task, give_up

__all__ = ["ClusterRunner"]

_CONNECT_S = 15
_AHEAD = 2  # tasks per worker's thread that are under way: one at work, one waiting beside it


@dataclass(slots=True)
class ClusterRunner:
    """Works on a Dask cluster. Use as a context manager.

    Attributes
    ----------
    address
        Of the scheduler, such as ``tcp://192.168.1.20:8786``.
    work
        What each worker does with a task; importable by name.
    """

    address: str
    work: Work = run_task
    _client: Any = None

    def __enter__(self) -> Self:
        """Connect.

        Raises
        ------
        UsageError
            If Dask is not installed.
        FileError
            If no scheduler answers there, or it has no worker.
        """
        try:
            self._client = _dask().Client(self.address, timeout=_CONNECT_S)
        except (OSError, ValueError) as error:
            raise FileError(f"no scheduler answers at {self.address}") from error
        try:
            self._client.wait_for_workers(1, timeout=_CONNECT_S)
        except TimeoutError as error:
            self._client.close()
            raise FileError(f"the scheduler at {self.address} has no worker") from error
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Let go of what is under way, and of the connection."""
        if self._client is not None:
            self._client.close()
            self._client = None

    def run(self, tasks: Iterable[Task]) -> Iterator[Done]:
        """Yield what came of each task, as it comes."""
        if self._client is None:
            raise ValueError("a cluster runner works inside its with statement")
        source = iter(tasks)
        given = {self._give(task): task for task in islice(source, self._width())}
        finished = _dask().as_completed(given)
        for future in finished:
            task = given.pop(future)
            more = next(source, None)
            if more is not None:
                new = self._give(more)
                given[new] = more
                finished.add(new)
            yield self._take(future, task)

    def _width(self) -> int:
        """Return how many tasks to have under way."""
        threads = sum(self._client.nthreads().values())
        return max(_AHEAD * int(threads), 1)

    def _give(self, task: Task) -> Any:
        """Hand a task to the cluster."""
        return self._client.submit(self.work, task, pure=False)

    def _take(self, future: Any, task: Task) -> Done:
        """Return what came of a task; a photo that keeps killing workers is refused.

        Raises
        ------
        FileError
            If the cluster failed, not the photo.
        """
        dask = _dask()
        try:
            done: Done = future.result()
        except dask.KilledWorker:
            return give_up(task, "worker-died")
        except (dask.CancelledError, OSError) as error:
            raise FileError(f"the scheduler at {self.address} does not answer any more") from error
        except ImportError as error:
            raise FileError(
                f"a worker of {self.address} cannot import motiffit: {error}"
            ) from error
        return done


def _dask() -> Any:
    """Return Dask's module for clusters: an optional extra, imported where it is asked for.

    Raises
    ------
    UsageError
        If it is not installed.
    """
    try:
        return import_module("distributed")
    except ImportError as error:
        raise UsageError(
            "work on a cluster needs Dask: pip install '.[cluster]' in the program's own folder"
        ) from error
