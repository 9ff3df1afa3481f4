"""The one file that may be written, and the check that nobody wrote it meanwhile."""

from __future__ import annotations

import hashlib
import os
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from ventplan.errors import InputError, VentplanError
from ventplan.house.yaml_text import read_text

ABSENT = "absent"
"""What stands for the content of a file that does not exist yet."""


def digest_of(content: bytes) -> str:
    """A short name of a content: the same content has the same name."""
    return hashlib.sha256(content).hexdigest()[:32]


class NewerOnDisk(VentplanError):
    """The file was changed by someone else since it was read.

    Attributes
    ----------
    digest
        Name of the content that stands there now, `ABSENT` where there is no file.
    """

    def __init__(self, digest: str) -> None:
        self.digest = digest
        what = "was removed" if digest == ABSENT else "was changed by another program"
        super().__init__(f"the file {what} since this page read it; nothing was written")


@dataclass(frozen=True)
class HouseFile:
    """A house file by its path; nothing else is ever written.

    Attributes
    ----------
    path
        Where it is, or will be.
    """

    path: Path

    def digest(self) -> str:
        """Name of the content that stands there now."""
        try:
            return digest_of(self.path.read_bytes())
        except FileNotFoundError:
            return ABSENT
        except OSError:  # a folder, or not ours to read: `read_text` says which
            return ""

    def read(self) -> tuple[str, str]:
        """Its text and the name of its content; empty text where there is no file yet.

        Raises
        ------
        InputError
            If it cannot be read.
        """
        if not self.path.exists():
            return "", ABSENT
        seen = self.digest()  # first: what is written between the two looks counts as newer, and is not written over
        return read_text(self.path), seen

    def write(self, text: str, *, seen: str) -> str:
        """Write the text where the content is still the one seen.

        Parameters
        ----------
        text
            The whole new text.
        seen
            Name of the content that the text was made from.

        Returns
        -------
        str
            Name of the new content.

        Raises
        ------
        NewerOnDisk
            Where something else stands there now.
        InputError
            Where it cannot be written.

        Notes
        -----
        The file is written in place, so links and permissions stay and no second file appears beside it; comparing
        and writing go through one handle that other writers are locked out of where the system has such locks.
        """
        content = text.encode("utf-8")
        try:
            if seen == ABSENT:
                with self.path.open("xb") as new:
                    new.write(content)
                    _settle(new.fileno())
                return digest_of(content)
            with self.path.open("r+b") as file:
                _lock(file.fileno())
                now = digest_of(file.read())
                if now != seen:
                    raise NewerOnDisk(now)
                file.seek(0)
                file.write(content)
                file.truncate()
                file.flush()
                _settle(file.fileno())
        except FileExistsError:
            raise NewerOnDisk(self.digest()) from None
        except FileNotFoundError:
            if seen != ABSENT:
                raise NewerOnDisk(ABSENT) from None
            raise InputError(f"{self.path}: there is no folder {self.path.parent}") from None
        except OSError as error:
            raise InputError(f"{self.path}: cannot be written ({error.strerror})") from None
        return digest_of(content)


def _settle(handle: int) -> None:
    with suppress(OSError):
        os.fsync(handle)


def _lock(handle: int) -> None:
    try:
        import fcntl
    except ImportError:  # no such locks on this system: the comparison alone guards the file
        return
    with suppress(OSError):
        fcntl.flock(handle, fcntl.LOCK_EX)
