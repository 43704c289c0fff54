"""Packed rules and profiles are found wherever the package may live, or missed with one clear line."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from waitwright._resources import packed_files, packed_names, packed_profile, packed_root

PACKAGE = Path(__file__).resolve().parents[2] / "src" / "waitwright"
LIGHT = ("__init__.py", "_resources.py", "errors.py")
ASK = """
from waitwright._resources import packed_files, packed_profile
from waitwright.errors import PackedDataMissing
try:
    print([name for name, _ in packed_files("rules")], packed_profile("machines", "mill").read_text("utf-8"))
except PackedDataMissing as error:
    print("missing:", error)
"""


def lay(root: Path, data: str | None) -> None:
    """The light part of the package at *root*, with two data files under the folder *data* (none if None)."""
    package = root / "waitwright"
    package.mkdir(parents=True)
    for name in LIGHT:
        shutil.copy(PACKAGE / name, package / name)
    if data is not None:
        for file, text in {"rules/parts/sram.toml": "", "profiles/machines/mill.toml": "title = 'µ'"}.items():
            path = root / data / file
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, "utf-8")


def ask(path: Path) -> str:
    """What a fresh process with only *path* to import from finds."""
    environment = {**os.environ, "PYTHONPATH": str(path), "PYTHONIOENCODING": "utf-8"}
    done = subprocess.run(
        [sys.executable, "-c", ASK], env=environment, capture_output=True, encoding="utf-8", check=True
    )
    return done.stdout.strip()


FOUND = "['rules/parts/sram.toml'] title = 'µ'"


def test_found_inside_an_installed_package(tmp_path: Path) -> None:
    """An installed wheel has its data inside the package."""
    lay(tmp_path, "waitwright/_data")

    assert ask(tmp_path) == FOUND


def test_found_inside_a_zip(tmp_path: Path) -> None:
    """A wheel that is imported as a zip file is read without unpacking."""
    lay(tmp_path / "tree", "waitwright/_data")
    archive = tmp_path / "waitwright.zip"
    with zipfile.ZipFile(archive, "w") as packed:
        for file in sorted((tmp_path / "tree").rglob("*.*")):
            packed.write(file, file.relative_to(tmp_path / "tree"))

    assert ask(archive) == FOUND


def test_found_above_src_in_a_checkout(tmp_path: Path) -> None:
    """An editable installation reads the data of the checkout."""
    lay(tmp_path / "src", "..")
    (tmp_path / "pyproject.toml").touch()

    assert ask(tmp_path / "src") == FOUND


@pytest.mark.parametrize("data", [None, ".."], ids=["no data", "data, but no checkout around it"])
def test_missing_data_is_told(tmp_path: Path, data: str | None) -> None:
    """Without its data the package says so, and takes no folder that merely looks like them."""
    lay(tmp_path / "src", data)

    assert (
        ask(tmp_path / "src")
        == "missing: the packed rules and profiles are missing; install waitwright again"
    )


def test_every_folder_of_rules_is_packed() -> None:
    """The packed rules include words, parts and budgets, named from the top, sorted, and readable."""
    files = packed_files("rules")
    names = [name for name, _ in files]

    assert names == sorted(names)
    assert {name.split("/")[1] for name in names} >= {"words", "parts", "budgets"}
    assert all(content.read_text("utf-8") for _, content in files)


def test_packed_profiles_by_name() -> None:
    """Every listed machine and board can be opened by its name."""
    for kind in ("machines", "boards"):
        for name in packed_names(kind):
            assert packed_profile(kind, name) is not None


@pytest.mark.parametrize(
    "name", ["nosuch", "", "../machines/tollgate-386dx33", "tollgate-386dx33.toml", "/etc/passwd"]
)
def test_other_names_are_no_packed_profile(name: str) -> None:
    """Only the bare name of a packed profile finds one; a path never does."""
    assert packed_profile("machines", name) is None


def test_root_is_found_once() -> None:
    """The place of the data is looked for once per process."""
    assert packed_root() is packed_root()
