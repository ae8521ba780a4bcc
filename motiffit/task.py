"""One photo's work, as it is handed to a worker: what goes in, what comes back.

A worker reads the photo and writes nothing; it may be this process, another, or another machine.
"""

from dataclasses import dataclass
from pathlib import Path

from motiffit.files import content_hash
from motiffit.ledger import program_version
from motiffit.record import Sizing, make_message, refused_sizing
from motiffit.settings import Settings

__all__ = ["Done", "Task", "give_up", "hash_or_none"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """A photo to be sized."""

    photo: str
    path: str
    settings: Settings


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """What came of a task.

    Attributes
    ----------
    task
        The task.
    sizing
        The record.
    photo_hash
        SHA-256 of the photo that was sized; None when it could not be read.
    picture, thumbnail
        JPEG files: the photo with its square drawn in, large and small; None when the photo
        cannot be shown.
    program
        Version of the program in the worker.
    """

    task: Task
    sizing: Sizing
    photo_hash: str | None = None
    picture: bytes | None = None
    thumbnail: bytes | None = None
    program: str


def give_up(task: Task, code: str, **details: object) -> Done:
    """Return the refusal of a task that no worker could finish."""
    return Done(
        task=task,
        sizing=refused_sizing(task.path, task.settings, make_message(code, **details)),
        photo_hash=hash_or_none(task.path),
        program=program_version(),
    )


def hash_or_none(path: str) -> str | None:
    """Return the hash of a file's content, or None when it cannot be read."""
    try:
        return content_hash(Path(path))
    except OSError:
        return None
