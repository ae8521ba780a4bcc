"""The pile on disk: one record per photo, a person's corrections beside it, what is out of date.

Everything lies in ``FOLDER/motiffit/``; nothing else in the folder is ever written::

    records/NAME.json       the record of a photo (as --json prints it) with a key: program version
                            and photo hash; the settings are part of the record itself
    corrections/NAME.json   what a person said of the photo; sizing never writes here
    asked.json              what the last run, or the page, asked of all photos
    pictures/NAME.jpg       the photo with its window drawn in; pictures/NAME.small.jpg, a thumbnail

NAME is the photo's name made safe, with a hash of the true name behind it; the true name stands in
the file. Every file is written whole or not at all.
"""

import hashlib
import json
import os
import re
from collections.abc import Iterator, Mapping, Set
from contextlib import AbstractContextManager
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path
from time import time
from typing import Any, Self

from motiffit.corrections import Corrections, answer_digest
from motiffit.errors import FileError
from motiffit.files import content_hash, write_whole
from motiffit.lock import hold
from motiffit.messages import MACHINE_REFUSALS
from motiffit.record import Sizing, settings_from_dict
from motiffit.settings import Settings

__all__ = ["PHOTO_SUFFIXES", "Entry", "Ledger", "natural_key", "program_version"]

PHOTO_SUFFIXES = (".jpg", ".jpeg", ".png", ".webp", ".tif", ".tiff", ".heic", ".heif")

_HOME = "motiffit"
_PARTS = ("records", "corrections", "pictures")
_BRIEF_WAIT_S = 20.0  # the brief lock is held for milliseconds; longer means a stuck process
_LEFTOVER_S = 600.0  # no single file takes so long to write: an older part was left by a crash


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One photo of the pile: what was measured and what a person said.

    Attributes
    ----------
    photo
        Its name in the folder; ``sizing.photo`` is the same.
    sizing
        The record.
    photo_hash
        SHA-256 of the photo that was sized.
    program
        Version of the program that sized it.
    said
        The person's corrections and notes, as they are now.
    """

    photo: str
    sizing: Sizing
    photo_hash: str
    program: str
    said: Corrections

    @property
    def is_accepted(self) -> bool:
        """Tell whether a person accepted this very answer."""
        return self.said.accepted == answer_digest(self.sizing, self.photo_hash)

    def is_current(self, photo_hash: str, settings: Settings) -> bool:
        """Tell whether sizing the photo again would change nothing.

        Parameters
        ----------
        photo_hash
            SHA-256 of the photo as it is now.
        settings
            What is asked of all photos; the person's corrections are put in here.
        """
        return (
            self.photo_hash == photo_hash
            and self.program == program_version()
            and self.sizing.settings == self.said.heeded(settings)
            and not self.sizing.says(MACHINE_REFUSALS)
        )

    def to_dict(self) -> dict[str, Any]:
        """Return the record as JSON-ready values, with its key and what a person said."""
        said = {
            name: value["value"]
            for name, value in self.said.to_dict()["fields"].items()
            if value["value"] is not None
        }
        return {**_record(self.sizing, self.photo_hash, self.program), "said": said}


@dataclass(frozen=True, slots=True)
class Ledger:
    """The pile of one folder. Make it with `Ledger.open`; it holds no state but the place."""

    folder: Path

    @classmethod
    def open(cls, folder: str | os.PathLike[str], *, create: bool = True) -> Self:
        """Open the pile of a folder of photos.

        Parameters
        ----------
        folder
            Where the photos are.
        create
            Make what is missing and probe that it can be written. Without it the pile must be
            there, and nothing is written.

        Raises
        ------
        FileError
            If there is no such folder, or it cannot be written, or there is no pile in it.
        """
        ledger = cls(Path(folder))
        if not ledger.folder.is_dir():
            raise FileError(f"there is no folder {ledger.folder}")
        if ledger.home.is_symlink():
            raise FileError(f"{ledger.home} is a link: move it away, a pile is a folder of its own")
        if create:
            ledger._make_folders()
        elif not (ledger.home / "records").is_dir():
            raise FileError(
                f"no photo of {ledger.folder} was sized yet: run 'motiffit pile' on it first"
            )
        return ledger

    @property
    def home(self) -> Path:
        """The folder that holds everything of the pile."""
        return self.folder / _HOME

    @property
    def _asked_path(self) -> Path:
        return self.home / "asked.json"

    def photos(self) -> tuple[str, ...]:
        """Return the names of the photos now in the folder, as a person would order them.

        Hidden files and links that lead out of the folder are left out (`strays` names the links).
        """
        return tuple(name for name in self._candidates() if self._is_inside(name))

    def strays(self) -> tuple[str, ...]:
        """Return the names of photos that are links leading out of the folder."""
        return tuple(name for name in self._candidates() if not self._is_inside(name))

    def path_of(self, photo: str) -> Path:
        """Return the path of a photo.

        Raises
        ------
        ValueError
            If that is not the plain name of a file in the folder.
        """
        if photo in ("", ".", "..") or any(sign in photo for sign in "/\\\0"):
            raise ValueError(f"not the name of a photo: {photo!r}")
        return self.folder / photo

    def entry(self, photo: str) -> Entry | None:
        """Return what is known of a photo, or None when it was not sized (or its record is lost).

        A record that cannot be read counts as lost: sizing the photo again mends it.
        """
        data = _read_json(self._file(photo, "records"))
        try:
            key, sizing = data["key"], Sizing.from_dict(data)
            if sizing.photo != photo:
                return None
            return Entry(
                photo=photo,
                sizing=sizing,
                photo_hash=str(key["photo_hash"]),
                program=str(key["program"]),
                said=self.said(photo),
            )
        except (KeyError, TypeError, ValueError):
            return None

    def entries(self) -> Iterator[Entry]:
        """Yield what is known of each photo in the folder, in `photos` order, one at a time."""
        for photo in self.photos():
            entry = self.entry(photo)
            if entry is not None:
                yield entry

    def unread(self, *, but: Set[str] = frozenset()) -> tuple[str, ...]:
        """Return the names of photos in the folder whose record is there but cannot be read.

        Parameters
        ----------
        but
            Photos whose records were read just now.
        """
        return tuple(
            photo
            for photo in self.photos()
            if photo not in but
            and self._file(photo, "records").exists()
            and self.entry(photo) is None
        )

    def asked(self) -> Settings | None:
        """Return what was last asked of all photos; None where that cannot be read."""
        try:
            return settings_from_dict(_read_json(self._asked_path))
        except ValueError:
            return None

    def keep_asked(self, settings: Settings) -> None:
        """Keep what is asked of all photos, for runs that say nothing else.

        Raises
        ------
        FileError
            If it cannot be written.
        """
        write_whole(self._asked_path, _to_bytes(asdict(settings)))

    def gone(self) -> tuple[str, ...]:
        """Return the names of photos that were sized or spoken of but are no longer there."""
        here = {_safe_name(name) for name in self._candidates()}
        names = {
            data["photo"]
            for part in ("records", "corrections")
            for path in (self.home / part).glob("*.json")
            if path.stem not in here and isinstance((data := _read_json(path)).get("photo"), str)
        }
        return tuple(sorted(names, key=natural_key))

    def write(self, photo: str, sizing: Sizing, *, photo_hash: str, settings: Settings) -> bool:
        """Keep a record, unless a person corrected the photo since it was sent to be sized.

        Parameters
        ----------
        photo
            Its name.
        sizing
            The record; its ``photo`` becomes the name.
        photo_hash
            SHA-256 of the photo that was sized.
        settings
            What is asked of all photos.

        Returns
        -------
        bool
            False when a correction came in meanwhile, so that the photo must be sized again.

        Raises
        ------
        FileError
            If the record cannot be written; the old one is then untouched.
        """
        record = _record(replace(sizing, photo=photo), photo_hash, program_version())
        with self._briefly():
            if self.said(photo).heeded(settings) != sizing.settings:
                return False
            write_whole(self._file(photo, "records"), _to_bytes(record))
        return True

    def said(self, photo: str) -> Corrections:
        """Return what a person said of a photo; nothing when the file cannot be read."""
        try:
            return Corrections.from_dict(_read_json(self._file(photo, "corrections")))
        except ValueError:
            return Corrections()

    def tell(self, photo: str, changes: Mapping[str, Any], *, by: str) -> Corrections:
        """Note what a person says of a photo, and return all that was said of it.

        Parameters
        ----------
        photo
            Its name.
        changes
            New values by field of `motiffit.corrections.Corrections`; None takes a word back.
        by
            Where it was said.

        Raises
        ------
        ValueError
            For a field or a value that cannot be.
        FileError
            If it cannot be written.
        """
        now = datetime.now(UTC).isoformat(timespec="milliseconds")
        path = self._file(photo, "corrections")
        with self._briefly():
            self._put_aside_if_damaged(path)
            said = self.said(photo).told(changes, at=now, by=by)
            write_whole(path, _to_bytes({**said.to_dict(), "photo": photo}))
        return said

    def forget(self, photo: str) -> None:
        """Forget all that was said and measured of a name.

        The words go first: a record without words does no harm, should the rest fail.

        Raises
        ------
        FileError
            If something cannot be removed.
        """
        pictures = [self.picture_of(photo), self.picture_of(photo, small=True)]
        files = [self._file(photo, "corrections"), *pictures, self._file(photo, "records")]
        with self._briefly():
            for path in files:
                try:
                    path.unlink(missing_ok=True)
                except OSError as error:
                    raise FileError(f"cannot remove {path}: {error.strerror}") from error

    def picture_of(self, photo: str, *, small: bool = False) -> Path:
        """Return where the photo's picture with its window (or the thumbnail) is kept."""
        return self.home / "pictures" / (_safe_name(photo) + (".small.jpg" if small else ".jpg"))

    def written(self, photo: str) -> tuple[int, int] | None:
        """Return what tells one writing of a photo's record from the next; None without one."""
        try:
            found = self._file(photo, "records").stat()
        except OSError:
            return None
        return found.st_ino, found.st_mtime_ns

    def hash_of(self, photo: str) -> str | None:
        """Return the SHA-256 of a photo as it is now, or None when it cannot be read."""
        try:
            return content_hash(self.path_of(photo))
        except OSError:
            return None

    def running(self, *, wait_s: float = 0.0) -> AbstractContextManager[None]:
        """Hold the folder for one run over the pile, and sweep up what a crashed one left.

        Parameters
        ----------
        wait_s
            How long to wait for another run to end.

        Raises
        ------
        motiffit.lock.Busy
            If another run holds it.
        """
        self._sweep()
        return hold(self.home / ".run.lock", wait_s=wait_s)

    def _briefly(self) -> AbstractContextManager[None]:
        """Hold the lock that keeps two writers of one photo apart."""
        return hold(self.home / ".write.lock", wait_s=_BRIEF_WAIT_S)

    def _make_folders(self) -> None:
        """Make the pile's folders and probe that they can be written."""
        try:
            for part in _PARTS:
                (self.home / part).mkdir(parents=True, exist_ok=True)
            write_whole(self.home / ".probe", b"")
            (self.home / ".probe").unlink(missing_ok=True)
        except OSError as error:
            raise FileError(f"cannot write {self.home}: {error.strerror}") from error

    def _candidates(self) -> list[str]:
        """Return names in the folder that look like photos, files and links to files alike."""
        try:
            with os.scandir(self.folder) as found:
                names = [item.name for item in found if _is_photo(item)]
        except OSError as error:
            raise FileError(f"cannot read {self.folder}: {error.strerror}") from error
        return sorted(names, key=natural_key)

    def _is_inside(self, name: str) -> bool:
        """Tell whether a photo is what it seems, or at least a link within the folder."""
        path = self.folder / name
        return not path.is_symlink() or path.resolve().is_relative_to(self.folder.resolve())

    def _file(self, photo: str, part: str) -> Path:
        """Return where a photo's record or corrections are kept."""
        return self.home / part / f"{_safe_name(photo)}.json"

    def _put_aside_if_damaged(self, path: Path) -> None:
        """Keep a file of corrections that cannot be read, under another name."""
        if not path.exists():
            return
        try:
            Corrections.from_dict(_read_json(path))
        except ValueError:
            path.replace(path.with_suffix(f".damaged-{os.urandom(4).hex()}"))

    def _sweep(self) -> None:
        """Remove half-written files that a killed process left."""
        for path in self.home.rglob(".motiffit-*.part"):
            try:
                if time() - path.stat().st_mtime > _LEFTOVER_S:
                    path.unlink()
            except OSError:
                continue


def natural_key(name: str) -> tuple[list[tuple[int, int, str]], str]:
    """Return a sorting key under which IMG_2 comes before IMG_10.

    Examples
    --------
    >>> sorted(["IMG_10.jpg", "img_2.jpg"], key=natural_key)
    ['img_2.jpg', 'IMG_10.jpg']
    """
    parts = re.findall(r"[0-9]+|[^0-9]+", name.casefold())
    return [(0, int(part), "") if part.isdecimal() else (1, 0, part) for part in parts], name


def program_version() -> str:
    """Return the version of this program."""
    return version("motiffit")


def _is_photo(item: os.DirEntry[str]) -> bool:
    """Tell whether a folder's item is a file that may be a photo."""
    if item.name.startswith(".") or not item.name.lower().endswith(PHOTO_SUFFIXES):
        return False
    return item.is_symlink() or item.is_file()


def _safe_name(photo: str) -> str:
    """Return a file name that any system takes, different for every photo."""
    plain = re.sub(r"[^A-Za-z0-9]+", "-", Path(photo).stem).strip("-")[:40]
    digest = hashlib.sha256(photo.encode("utf-8", "surrogateescape")).hexdigest()[:12]
    return f"{plain or 'photo'}-{digest}"


def _record(sizing: Sizing, photo_hash: str, program: str) -> dict[str, Any]:
    """Return a record with its key, JSON-ready."""
    key = {
        "program": program,
        "photo_hash": photo_hash,
        "settings": sizing.settings.fingerprint(),
    }
    return {**sizing.to_dict(), "key": key}


def _to_bytes(data: dict[str, Any]) -> bytes:
    """Return JSON in plain ASCII: names that are not proper Unicode survive the round trip."""
    return (json.dumps(data, allow_nan=False) + "\n").encode("ascii")


def _read_json(path: Path) -> dict[str, Any]:
    """Read a JSON object; an empty one when there is none that can be read."""
    try:
        data = json.loads(path.read_bytes())
    except (OSError, ValueError, RecursionError):
        return {}
    return data if isinstance(data, dict) else {}
