"""Jobs for the page's workers that go wrong in every way; light, since a worker imports this."""

import os
import signal
import time
from pathlib import Path

from motiffit.errors import Refusal


def add_up(*numbers):
    return sum(numbers)


def refuse():
    raise Refusal("photo-too-small", width=3, height=4)


def fail():
    raise RuntimeError("at some place")


def fail_at(path):
    raise RuntimeError(f"cannot decode '{path}', nor C:\\Users\\anna\\shirt.jpg")


def miss(path):
    Path(path).read_bytes()


def fill_memory():
    raise MemoryError


def hang():
    time.sleep(600)


def die():
    os.kill(os.getpid(), signal.SIGKILL)
