"""Ctrl-C, which reaches every process of a terminal: workers do not hear it, the parent decides."""

import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from multiprocessing import resource_tracker

__all__ = ["deaf_start", "stay_deaf"]


@contextmanager
def deaf_start() -> Iterator[None]:
    """Start processes that do not hear Ctrl-C before they can say so with `stay_deaf`.

    What is changed is the calling thread's own and goes over to the processes that it starts:
    several threads may start some at the same time.
    """
    if sys.platform == "win32":  # no signal can be held back there
        yield
        return
    # Python's own helper process, if started with the first worker, ends the deafness too early
    resource_tracker.ensure_running()
    before = signal.pthread_sigmask(signal.SIG_BLOCK, [signal.SIGINT])
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def stay_deaf() -> None:
    """Ignore Ctrl-C in this process from now on."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if sys.platform != "win32":
        signal.pthread_sigmask(signal.SIG_UNBLOCK, [signal.SIGINT])
