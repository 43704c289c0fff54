"""``new``: a machine profile to start from."""

from __future__ import annotations

from pathlib import Path

from waitwright._resources import packed_names, packed_profile
from waitwright.errors import UsageError
from waitwright.nearest import hint_behind


def copy_packed(name: str, output: Path | None = None) -> Path:
    """Copy the packed machine *name* to *output*, or to ``NAME.toml`` in the current folder.

    Raises:
        UsageError: if there is no such machine, or the file exists already or cannot be written.
    """
    packed = packed_profile("machines", name)
    if packed is None:
        hint = hint_behind(name, packed_names("machines"))
        raise UsageError(f"--from {name}: no packed machine of that name{hint}")
    path = output or Path(f"{name}.toml")
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(packed.read_text("utf-8"))
    except FileExistsError:
        raise UsageError(
            f"{path} exists already and is left as it is; give another name with -o FILE"
        ) from None
    except OSError as error:
        raise UsageError(f"{path}: cannot be written: {error.strerror}") from None
    return path
