"""Builds the documents: pages with what the program says in them, and the reference, as static HTML.

    python docs/build.py [FOLDER]        FOLDER is docs/site unless told

Links between pages are checked; a broken one fails the build.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from importlib.resources import files as packed
from pathlib import Path

os.environ |= {"COLUMNS": "80", "NO_COLOR": "1"}  # before anything asks how wide the screen is

from making import claims, commands, files, provenance, shown

HERE = Path(__file__).resolve().parent
TESTS = HERE.parent / "tests"

MADE: dict[str, Callable[[], str]] = {
    "claims.md": lambda: claims.page(TESTS),
    "provenance.md": provenance.page,
    "commands.md": commands.page,
    "files.md": files.page,
}
"""Pages that have no text of their own."""


def write_pages(folder: Path) -> None:
    """All pages as Markdown, directives replaced, into *folder*."""
    folder.mkdir(parents=True, exist_ok=True)
    for page in sorted((HERE / "pages").glob("*.md")):
        sys.stderr.write(f"{page.name}\n")
        (folder / page.name).write_text(shown.expand(page.read_text("utf-8")), "utf-8")
    for name, make in MADE.items():
        sys.stderr.write(f"{name}\n")
        (folder / name).write_text(make(), "utf-8")


def build(site: Path) -> None:
    """The whole site as static HTML into the folder *site*.

    Raises:
        subprocess.CalledProcessError: if a link leads nowhere.
    """
    with tempfile.TemporaryDirectory() as scratch:
        top = Path(scratch)
        write_pages(top / "pages")
        shutil.copytree(HERE / "theme", top / "theme")
        shutil.copy(HERE / "mkdocs.yml", top)
        paper = packed("waitwright.report.html") / "paper.css"
        (top / "theme" / "paper.css").write_bytes(paper.read_bytes())
        subprocess.run(
            [sys.executable, "-m", "mkdocs", "build", "--strict", "--quiet", "--site-dir", site.resolve()],
            cwd=top,
            check=True,
        )


if __name__ == "__main__":
    build(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE / "site")
