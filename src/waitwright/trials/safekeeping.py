"""Files that survive: one writer at a time, and the old or the new content, never half.

The lock is a file of its own beside the one that it guards, as that one is replaced at each change.
The system holds the lock for as long as the process lives, so a lock file left behind blocks nobody.
"""

from __future__ import annotations

import errno
import os
import stat
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from waitwright.errors import InputError

_PAUSE_S = 0.02

if sys.platform == "win32":
    import msvcrt

    def _try_lock(descriptor: int) -> bool:
        try:
            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        except PermissionError:
            return False
        return True

    def _unlock(descriptor: int) -> None:
        msvcrt.locking(descriptor, msvcrt.LK_UNLCK, 1)

else:
    import fcntl

    def _try_lock(descriptor: int) -> bool:
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True

    def _unlock(descriptor: int) -> None:
        fcntl.flock(descriptor, fcntl.LOCK_UN)


def lock_beside(path: Path) -> Path:
    """The lock file that guards the file at *path*."""
    return path.with_name(path.name + ".lock")


@contextmanager
def locked(path: Path, name: str, patience: float) -> Iterator[None]:
    """Be the only process, and the only thread, inside such a block for the file at *path*.

    Args:
        name: The file as the user knows it; errors name it.
        patience: Seconds to wait for another one to leave, or to change the file.

    Raises:
        InputError: if the other one does not leave in time, or the lock file cannot be made.
    """
    with _told(name, "cannot be locked"):
        descriptor = os.open(lock_beside(path), os.O_RDWR | os.O_CREAT, 0o666)
    try:
        with _told(name, "cannot be locked"):
            _wait_for(descriptor, path, patience)
        try:
            yield
        finally:
            _unlock(descriptor)
    finally:
        os.close(descriptor)


def _wait_for(descriptor: int, path: Path, patience: float) -> None:
    seen = _age(path)
    give_up = time.monotonic() + patience
    while not _try_lock(descriptor):
        if _age(path) != seen:  # a queue that moves on: others are before us, and nobody is stuck
            seen = _age(path)
            give_up = time.monotonic() + patience
        if time.monotonic() >= give_up:
            raise TimeoutError(errno.ETIMEDOUT, f"another process has been using it for {patience:g} s")
        time.sleep(_PAUSE_S)


def _age(path: Path) -> tuple[int, int] | None:
    """What changes whenever the file at *path* is replaced."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_ino, found.st_mtime_ns


def replace_content(path: Path, name: str, content: bytes) -> None:
    """Let *content* take the place of what the file at *path* holds, in one step; keeps its permissions.

    To be called inside :func:`locked`.  After an error, and after a crash at any moment, the file holds
    the old or the new content.

    Args:
        name: The file as the user knows it; errors name it.

    Raises:
        InputError: if that cannot be done; the file is as it was then.
    """
    with _told(name, "cannot be written"):
        _write_and_rename(path, content)
    # The new content stands by now.  A system that cannot make the rename itself outlast a power cut
    # (Windows, some network folders) would bring back the old content or the new, as promised.
    with suppress(OSError):
        _sync_folder(path.parent)


def _write_and_rename(path: Path, content: bytes) -> None:
    mode = _mode_of(path)
    # One fixed name: what a killed process left behind is cleared here, and the lock keeps others out.
    fresh = path.with_name(path.name + ".new")
    fresh.unlink(missing_ok=True)
    try:
        with fresh.open("xb") as stream:
            if mode is not None:
                fresh.chmod(mode)
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        fresh.replace(path)
    except BaseException:
        with suppress(OSError):
            fresh.unlink(missing_ok=True)
        raise


def _mode_of(path: Path) -> int | None:
    """Permissions of a file that may be written; None where there is no file yet."""
    try:
        mode = stat.S_IMODE(path.stat().st_mode)
    except FileNotFoundError:
        return None
    if not os.access(path, os.W_OK):
        # A rename would not mind; the owner who protected the file would.
        raise PermissionError(errno.EACCES, "the file is read-only")
    return mode


def _sync_folder(folder: Path) -> None:
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


@contextmanager
def _told(name: str, what: str) -> Iterator[None]:
    """Turn what the system refuses into one line for the user."""
    try:
        yield
    except OSError as error:
        reason = error.strerror or str(error)
        raise InputError(f"{name}: {what}: {reason}; nothing was written, and nothing is lost") from None
