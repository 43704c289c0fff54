"""Which boards and machines come with the package."""

from __future__ import annotations

from waitwright._resources import packed_names, packed_profile
from waitwright.report.packed_view import PackedView
from waitwright.schema.tomlfile import read_toml


def list_machines() -> tuple[PackedView, ...]:
    """The packed machines, by name; each name may stand in a :class:`~waitwright.api.opening.Question`.

    Raises:
        PackedDataMissing: if the installation lacks its profiles.
    """
    return _listed("machines")


def list_boards() -> tuple[PackedView, ...]:
    """The packed boards, by name; a machine profile names one of them under ``board``.

    Raises:
        PackedDataMissing: if the installation lacks its profiles.
    """
    return _listed("boards")


def _listed(kind: str) -> tuple[PackedView, ...]:
    return tuple(_view(kind, name) for name in packed_names(kind))


def _view(kind: str, name: str) -> PackedView:
    """Head of a packed profile; its whole was checked before it was packed."""
    profile = packed_profile(kind, name)
    if profile is None:
        raise AssertionError(f"{name} was listed a moment ago")
    head = read_toml(profile, f"{name}.toml").data
    return PackedView(name, head["title"], head.get("note", "").strip(), head.get("board", ""))
