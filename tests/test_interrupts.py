"""Ctrl-C while workers start: a terminal sends it to them too, and they must not hear it."""

import os
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from multiprocessing import active_children
from pathlib import Path
from threading import Event, Thread

import faults
import piles
import pytest
from review_jobs import add_up

from motiffit.interrupts import deaf_start
from motiffit.review.workshop import Workshop
from motiffit.runners import ProcessRunner

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no process can be sent Ctrl-C")


@contextmanager
def ctrl_c_all_the_time() -> Iterator[None]:
    """Interrupt every process that this one starts, from its first moment on."""
    done = Event()

    def interrupt() -> None:
        while not done.wait(0.001):
            for process in active_children():
                assert process.pid is not None
                os.kill(process.pid, signal.SIGINT)

    thread = Thread(target=interrupt)
    thread.start()
    try:
        yield
    finally:
        done.set()
        thread.join()


def test_workers_of_a_pile_do_not_hear_it_while_they_start(tmp_path: Path) -> None:
    piles.make_photos(tmp_path, 3)
    with ProcessRunner(2, work=faults.quick_work) as runner, ctrl_c_all_the_time():
        sized = piles.size_all(tmp_path, runner)
    assert not any(one.sizing.says({"worker-died"}) for one in sized)


def test_workers_of_the_page_do_not_hear_it_while_they_start() -> None:
    workshop = Workshop(2)
    try:
        with ctrl_c_all_the_time():
            answers = [workshop.give(add_up, number, 1) for number in range(2)]
            assert [answer.result(60) for answer in answers] == [1, 2]
    finally:
        workshop.close()


def test_whoever_starts_them_hears_it_again_as_before() -> None:
    before = signal.pthread_sigmask(signal.SIG_BLOCK, [])
    with deaf_start():
        assert signal.SIGINT in signal.pthread_sigmask(signal.SIG_BLOCK, [])
        with deaf_start():
            pass
        assert signal.SIGINT in signal.pthread_sigmask(signal.SIG_BLOCK, []), "one within another"
    assert signal.pthread_sigmask(signal.SIG_BLOCK, []) == before
