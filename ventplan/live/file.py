"""The one file that may be written, and the check that nobody wrote it meanwhile."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from ventplan.errors import VentplanError
from ventplan.files import write_file
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
        `ventplan.files.write_file` replaces the file in one step. The old content is compared just before that, under a
        lock that other pages of this program respect where the system has such locks.
        """

        def check() -> None:
            now = self.digest()
            if now != seen:
                raise NewerOnDisk(now)

        check()
        with _locked(self.path):
            write_file(self.path, text, check=check)
        return digest_of(text.encode("utf-8"))


@contextmanager
def _locked(path: Path) -> Iterator[None]:
    """Hold the lock of a file that exists; the comparison alone guards it on systems without such locks."""
    try:
        import fcntl

        handle = os.open(path, os.O_RDONLY)
    except (ImportError, OSError):
        yield
        return
    try:
        with suppress(OSError):
            fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)
