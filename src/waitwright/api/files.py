"""Writing a profile: the whole of it or nothing, and never over something that nobody agreed to lose."""

from __future__ import annotations

import os
import tempfile
from contextlib import suppress
from pathlib import Path

from waitwright.errors import InputError, UsageError


def read_profile(path: Path) -> bytes:
    """The content of the profile at *path*.

    Raises:
        UsageError: if there is none, or it cannot be read.
    """
    try:
        return path.read_bytes()
    except FileNotFoundError:
        raise UsageError(f"{path}: no such file") from None
    except (OSError, ValueError) as error:
        raise UsageError(f"{path}: cannot be read: {_reason(error)}") from None


def write_profile(path: Path, content: bytes, before: bytes | None) -> None:
    """Put *content* at *path* in one step: a crash at any moment leaves the old file, the new one, or none.

    Args:
        before: What stands there now, as somebody has read it; None where nothing must stand there.

    Raises:
        InputError: if something else stands there by now, or it cannot be written; nothing is changed then.
    """
    try:
        real = Path(os.path.realpath(path))  # a link is followed, never replaced
        if before is not None:
            if real.read_bytes() != before:
                raise UsageError(f"{path} was changed meanwhile and is left as it is; begin again")
            if not os.access(real, os.W_OK):
                raise UsageError(f"{path} is read-only and is left as it is")
        _place(real, content, fresh=before is None)
    except FileExistsError:
        raise UsageError(f"{path} exists already and is left as it is; give another name") from None
    except (OSError, ValueError) as error:
        raise InputError(f"{path}: cannot be written: {_reason(error)}; nothing was changed") from None


def _place(path: Path, content: bytes, *, fresh: bool) -> None:
    descriptor, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    written = Path(name)
    try:
        with os.fdopen(descriptor, "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        written.chmod(path.stat().st_mode & 0o7777 if not fresh else 0o666 & ~_umask())
        if fresh:
            _link(written, path)
        else:
            written.replace(path)
    finally:
        with suppress(OSError):
            written.unlink(missing_ok=True)


def _link(written: Path, path: Path) -> None:
    """Give *written* the name *path*, unless something has that name already."""
    try:
        path.hardlink_to(written)
    except FileExistsError:
        raise
    except OSError:  # a disk without links: claim the name first, then fill it in one step
        path.touch(exist_ok=False)
        written.replace(path)


def _umask() -> int:
    """What new files are not allowed to others; the system tells it only when it is set."""
    mask = os.umask(0o077)
    os.umask(mask)
    return mask


def _reason(error: Exception) -> str:
    return getattr(error, "strerror", None) or str(error) or type(error).__name__
