"""Write a file whole or not at all: a full disk or a stop in the middle leaves the old file as it was."""

from __future__ import annotations

import os
import secrets
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from ventplan.errors import InputError


def check_new_file(path: Path, *, replace: bool) -> None:
    """Check that a file may be written, before any long work.

    Parameters
    ----------
    path
        The file to write.
    replace
        True where an older file may be written over.

    Raises
    ------
    InputError
        Where something stands there and is not to be replaced, where it is a folder, or where the folder for it does
        not exist or does not allow new files.
    """
    folder = path.absolute().parent
    if path.is_dir():
        raise InputError(f"{path} is a folder; name a file in it")
    if not folder.is_dir():
        raise InputError(f"{path} cannot be written: there is no folder {path.parent}; make it first")
    if path.exists() and not replace:
        raise InputError(f"{path} exists already; choose another name, or add --replace to write over it")
    if not os.access(folder, os.W_OK):
        raise InputError(f"{path} cannot be written: the folder {path.parent} does not allow new files")


def write_file(path: str | Path, content: str | bytes, *, check: Callable[[], None] | None = None) -> None:
    """Replace the content of a file, or make the file, in one step.

    Parameters
    ----------
    path
        Where to write. A link is followed: the file that it leads to is replaced, and the link stays.
    content
        The whole new content; text is encoded in UTF-8, and lone surrogates are spelled out.
    check
        Called just before the file is replaced; what it raises stops the writing and leaves the old file.

    Raises
    ------
    InputError
        Where the file cannot be written; the text says why, and that the old file is unchanged.

    Notes
    -----
    The content is written to a temporary file in the same folder, flushed to the disk, and renamed over the old file.
    Renaming within a folder is atomic on POSIX systems (IEEE Std 1003.1-2017, ``rename``), so at every moment the name
    leads to the whole old content or to the whole new one. Permissions are kept. Another hard link to the old file
    keeps the old content. A terminal or a pipe, such as ``/dev/stdout``, has nothing to keep and is written directly.
    """
    data = content.encode("utf-8", "backslashreplace") if isinstance(content, str) else content
    target = Path(os.path.realpath(path))
    try:
        if Path(path).exists() and not Path(path).is_file() and not Path(path).is_dir():
            Path(path).write_bytes(data)
            return
        _replace(target, data, check)
    except FileNotFoundError:
        raise InputError(f"{path} cannot be written: there is no folder {target.parent}; make it first") from None
    except IsADirectoryError:
        raise InputError(f"{path} is a folder; name a file in it") from None
    except OSError as error:
        kept = ". The old file is unchanged" if target.is_file() else ""
        raise InputError(f"{path} cannot be written: {error.strerror or error}{kept}") from None


def _replace(target: Path, data: bytes, check: Callable[[], None] | None) -> None:
    if target.is_dir():
        raise IsADirectoryError
    old = target.stat() if target.exists() else None
    unfinished = target.parent / f".ventplan-{secrets.token_hex(6)}.part"
    # A new file gets the permissions that the system gives to new files, another one those of the old file.
    mode = 0o666 if old is None else old.st_mode & 0o7777
    handle = os.open(unfinished, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), mode)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        if old is not None:
            _give(unfinished, old)
        if check is not None:
            check()
        os.replace(unfinished, target)
    except BaseException:
        with suppress(OSError):
            os.unlink(unfinished)
        raise
    _flush_folder(target.parent)


def _give(unfinished: Path, old: os.stat_result) -> None:
    """Owner and permissions of the old file."""
    if hasattr(os, "chown"):
        with suppress(OSError):  # only the superuser may give a file to another user
            os.chown(unfinished, old.st_uid, old.st_gid)
    unfinished.chmod(old.st_mode & 0o7777)


def _flush_folder(folder: Path) -> None:
    """Make the new name last through a loss of power, on systems that can."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
