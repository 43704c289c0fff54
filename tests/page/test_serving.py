"""``waitwright page`` as a command: what it prints, where it listens, and how it ends."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest

from waitwright.api.new import copy_packed
from waitwright.cli.main import run
from waitwright.errors import UsageError
from waitwright.page import serving
from waitwright.page.serving import code, door_for, lan_address, open_place


@pytest.fixture
def profile(tmp_path: Path) -> Path:
    """A machine of one's own."""
    return copy_packed("tollgate-386dx33", tmp_path / "bench.toml")


@pytest.fixture
def started(profile: Path) -> Iterator[subprocess.Popen[str]]:
    """The command, running, with its first line still to be read."""
    process = subprocess.Popen(
        [sys.executable, "-m", "waitwright", "page", str(profile), "--json"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONUNBUFFERED": "1"},
    )
    yield process
    process.kill()
    process.communicate()


def address(process: subprocess.Popen[str]) -> str:
    """Where a command that has just been started serves."""
    assert process.stdout is not None
    line = process.stdout.readline()
    return str(json.loads(line)["url"])


def reached(url: str) -> httpx.Response:
    """The page, once the server is up."""
    until = time.monotonic() + 60
    while True:
        try:
            return httpx.get(url, timeout=60)
        except httpx.TransportError:
            assert time.monotonic() < until
            time.sleep(0.05)


def test_it_serves_and_ends_cleanly(started: subprocess.Popen[str]) -> None:
    """The address is printed, the page is there, and an interrupt ends it at once, even with news open."""
    url = address(started)
    assert url.startswith("http://127.0.0.1:")
    assert "Tollgate" in reached(url).text

    with httpx.stream("GET", f"{url}live", timeout=30) as news:
        assert next(news.iter_lines()) == "event: stamp"
        begun = time.monotonic()
        started.send_signal(signal.SIGINT)
        out, err = started.communicate(timeout=30)
    assert time.monotonic() - begun < 10
    assert (started.returncode, out, err) == (0, "", "")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["nosuch"], "no such file"),
        (["bench.toml", "--part", "cpu=none"], "without a CPU there is no timing"),
        (["bench.toml", "--set", "a=b"], "no option 'a'"),
        (["bench.toml", "--port", "0"], "greater than or equal to 1"),
        (["bench.toml", "--port", "99999"], "less than or equal to 65535"),
    ],
)
def test_what_is_wrong_is_told_before_anything_is_served(
    profile: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    words: list[str],
    told: str,
) -> None:
    """A machine or a wish that is wrong ends the command with one line and exit status 2."""
    monkeypatch.chdir(profile.parent)

    assert run(["page", *words]) == 2
    out, err = capsys.readouterr()
    assert told in err
    assert not out and len(err.splitlines()) == 1


def test_a_port_that_is_taken(profile: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A port that was asked for and is taken is an error; without one the next that is free is used."""
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        assert run(["page", str(profile), "--port", str(port)]) == 2
        assert f"--port {port}: cannot listen at 127.0.0.1" in capsys.readouterr().err


def test_the_next_free_port(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two benches on one machine get two ports."""
    first = open_place(0, lan=False)
    monkeypatch.setattr(serving, "USUAL_PORT", first.port)
    second = open_place(None, lan=False)
    first.listener.close()
    second.listener.close()

    assert second.port != first.port


def test_only_this_machine_unless_told() -> None:
    """By default the page listens on the loopback alone, and answers to its two names."""
    place = open_place(0, lan=False)
    place.listener.close()

    assert place.address == "127.0.0.1"
    assert place.hosts == {f"127.0.0.1:{place.port}", f"localhost:{place.port}"}
    assert not door_for(place, lan=False, tell=print).locked


def test_on_the_network_there_is_a_key(monkeypatch: pytest.MonkeyPatch) -> None:
    """With --lan the page listens at that one address, asks for a key, and tells the next when it is used."""
    monkeypatch.setattr(serving, "lan_address", lambda: "127.0.0.1")
    told: list[str] = []
    place = open_place(0, lan=True)
    place.listener.close()
    door = door_for(place, lan=True, tell=told.append)

    assert door.locked and door.key is not None
    assert door.redeem(door.key)
    assert told == [f"{place.url}?key={door.key}"]


def test_the_network_prints_address_key_and_code(
    profile: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """With --lan the terminal shows the address with its key, the same as a code, and a warning."""
    monkeypatch.setattr(serving, "lan_address", lambda: "127.0.0.1")
    monkeypatch.setattr(serving, "serve", lambda desk, door, place: place.listener.close())

    assert run(["page", str(profile), "--lan"]) == 0
    out = capsys.readouterr().out
    url = next(word for word in out.split() if word.startswith("http://"))
    assert "?key=" in url
    assert code(url) in out
    assert "not encrypted" in out


def test_no_network(
    profile: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A machine without a network says so in one line."""

    class NoNetwork(socket.socket):
        def connect(self, address: object) -> None:
            raise OSError(101, "Network is unreachable")

    monkeypatch.setattr(socket, "socket", NoNetwork)
    with pytest.raises(UsageError, match="no address on a network"):
        lan_address()
    assert run(["page", str(profile), "--lan"]) == 2
    assert len(capsys.readouterr().err.splitlines()) == 1


def test_the_code_is_for_a_camera() -> None:
    """The code is drawn in half blocks, so that it fits a terminal of 80 columns."""
    lines = code("http://192.168.178.201:8386/?key=abcd-efgh-jkmn-pqrs-tuvw").splitlines()

    assert 12 < len(lines) < 24
    assert max(map(len, lines)) <= 80


def test_open_shows_the_page(
    profile: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """--open asks for the browser of this machine, and nothing else does."""
    shown: list[str] = []
    monkeypatch.setattr("webbrowser.open", shown.append)
    monkeypatch.setattr(serving, "serve", lambda desk, door, place: place.listener.close())

    assert run(["page", str(profile)]) == 0
    assert not shown
    assert run(["page", str(profile), "--open"]) == 0
    assert shown and shown[0] in capsys.readouterr().out


def test_other_commands_do_without_the_web() -> None:
    """Only ``page`` loads the web libraries; its help does not."""
    spy = (
        "import sys; from waitwright.cli.main import run; run(sys.argv[1:]); "
        "print(sorted({'starlette', 'uvicorn', 'segno', 'jinja2'} & set(sys.modules)), file=sys.stderr)"
    )
    for words in (["page", "--help"], ["check", "tollgate-386dx33", "--rated"]):
        done = subprocess.run([sys.executable, "-c", spy, *words], capture_output=True, text=True, check=True)
        assert done.stderr.strip() == "[]"
