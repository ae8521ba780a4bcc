"""The errors of the package and the exit statuses of its commands.

::

    ValueError            a wrong call: a bug in the caller
    MotiffitError         anything a user can cause and cure; its text names the cure
     +-- UsageError       settings that contradict one another or cannot be read
     +-- FileError        a file or folder that cannot be read or written
     +-- Refusal          this photo cannot be measured; carries a message code

A `Refusal` is turned into the outcome ``refused`` by `motiffit.sizing.size_photo` and nowhere
else. Outcomes are turned into an exit status by the command line and nowhere else.
"""

from enum import IntEnum

__all__ = ["ExitStatus", "FileError", "MotiffitError", "Refusal", "UsageError"]


class ExitStatus(IntEnum):
    """What a command tells its caller."""

    OK = 0
    REFUSED = 1
    USAGE = 2
    INTERRUPTED = 130


class MotiffitError(Exception):
    """Base of all errors that a user can cause and cure."""


class UsageError(MotiffitError):
    """Settings that contradict one another or cannot be read."""


class FileError(MotiffitError):
    """A file or folder that cannot be read or written."""


class Refusal(MotiffitError):
    """A reason why this photo cannot be measured.

    Parameters
    ----------
    code
        A code declared in `motiffit.messages.MESSAGES`.
    **details
        Values for the placeholders of that message's text.
    """

    def __init__(self, code: str, **details: object) -> None:
        super().__init__(code)
        self.code = code
        self.details = details
