"""The pages under ``docs/``: every command works as shown, every link leads somewhere."""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
from html.parser import HTMLParser
from pathlib import Path

import pytest

from waitwright.cli.main import run

CHECKOUT = Path(__file__).resolve().parents[2]
DOCS = CHECKOUT / "docs"
PAGES = sorted(page.name for page in (DOCS / "pages").glob("*.md"))
EXIT = re.compile(r"# exit (\d)$")


def fenced(page: str, language: str) -> list[str]:
    """The fenced blocks of *language* on a page."""
    text = (DOCS / "pages" / page).read_text("utf-8")
    return re.findall(rf"^```{language}\n(.*?)^```$", text, re.MULTILINE | re.DOTALL)


def commands(page: str) -> list[str]:
    """The commands of this program that a page shows, in order."""
    lines = [line for block in fenced(page, "sh") for line in block.splitlines()]
    return [line for line in lines if line.startswith("waitwright ")]


@pytest.mark.parametrize("page", [page for page in PAGES if commands(page)])
def test_commands_of_a_page_work_in_order(
    page: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Whoever types what a page shows, from its top down in an empty folder, gets an answer each time."""
    for block in fenced(page, "toml"):
        name = block.splitlines()[0].removeprefix("# ")
        path = tmp_path / name.replace("rules/", "my-rules/", 1)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(block, "utf-8")
    monkeypatch.chdir(tmp_path)
    for line in commands(page):
        expected = EXIT.search(line)
        code = run(shlex.split(line, comments=True)[1:])
        out, err = capsys.readouterr()

        assert code == int(expected[1] if expected else 0), f"{line}\n{err}"
        assert out, line


class _Links(HTMLParser):
    """Targets and anchors of a page."""

    def __init__(self) -> None:
        super().__init__()
        self.targets: list[str] = []
        self.anchors: set[str] = set()
        self.loaded: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        if anchor := found.get("id"):
            self.anchors.add(anchor)
        if tag == "a" and (target := found.get("href")):
            self.targets.append(target)
        elif tag in {"link", "script", "img", "iframe"} and (target := found.get("href") or found.get("src")):
            self.loaded.append(target)


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The documents, built as a contributor builds them."""
    folder = tmp_path_factory.mktemp("site")
    subprocess.run([sys.executable, DOCS / "build.py", folder], check=True, capture_output=True, text=True)
    return folder


def read(page: Path) -> _Links:
    """The links of one built page."""
    links = _Links()
    links.feed(page.read_text("utf-8"))
    return links


def test_every_page_is_built_and_filled_in(site: Path) -> None:
    """Each page of the navigation is there, and no directive is left in any."""
    built = {page.name for page in site.glob("*.html")}

    assert {page.replace(".md", ".html") for page in PAGES} <= built
    assert {"claims.html", "provenance.html", "commands.html", "files.html"} <= built
    for page in site.glob("*.html"):
        assert "{{" not in page.read_text("utf-8"), page.name


def test_links_lead_somewhere(site: Path) -> None:
    """Each link names a page that is there, and an anchor that the page has."""
    anchors = {page.name: read(page).anchors for page in site.glob("*.html")}
    for page in site.glob("*.html"):
        for target in read(page).targets:
            if "://" in target:
                continue
            name, _, anchor = target.partition("#")
            assert (site / (name or page.name)).is_file(), f"{page.name}: {target}"
            assert not anchor or anchor in anchors[name or page.name], f"{page.name}: {target}"


def test_nothing_is_fetched_from_outside(site: Path) -> None:
    """Pages load their own files only."""
    for page in site.glob("*.html"):
        for target in read(page).loaded:
            assert "://" not in target
            assert (site / target).is_file(), f"{page.name}: {target}"


def test_the_reference_has_every_command(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Whatever ``--help`` lists has a heading in the reference of commands."""
    run(["--help"])
    listed = re.findall(r"^  ([a-z]+)  ", capsys.readouterr().out, re.MULTILINE)
    text = (site / "commands.html").read_text("utf-8")

    assert len(listed) > 10
    for name in listed:
        assert f'id="{name}' in text, name
