"""Each command from its words to its exit code."""

from __future__ import annotations

import json
import os
import select
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from waitwright.cli.main import run

OLD, NEW = "tollgate-386dx33", "tollgate-486dx2"
Captured = pytest.CaptureFixture[str]


def answer(capsys: Captured, *words: str) -> tuple[int, str, str]:
    """Exit code, standard output and standard error of one command line."""
    code = run([*words])
    out, err = capsys.readouterr()
    return code, out, err


# --------------------------------------------------------------------------------- exit codes


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (["check", OLD], 0),
        (["check", OLD, "--set", "cache-read=2-1-1-1"], 1),
        (["check", NEW, "--set", "refresh-hidden=on"], 1),
        (
            [
                "check",
                OLD,
                "--part",
                "tag=sram-32kx8-15",
                "--set",
                "cache-read=2-1-1-1",
                "--set",
                "host-clock=25",
            ],
            0,
        ),
        (["check", OLD, "--all", "--soak", "100"], 0),
        (["rank", OLD, "--rated", "--top", "1"], 0),
        (["rank", OLD, "--rated", "--set", "host-clock=50", "--fix", "host-clock"], 1),
        (["why", OLD], 0),
        (["why", OLD, "--set", "host-clock=50", "--soak", "1"], 1),
        (["rules", "list", "--kind", "workload"], 0),
        (["rules", "show", "l2.read.tag"], 0),
        (["rules", "validate"], 0),
    ],
)
@pytest.mark.parametrize("as_json", [False, True])
def test_exit_codes(words: list[str], code: int, as_json: bool, capsys: Captured) -> None:
    """An answer is 0, the answer "none" or "cannot hold" is 1; either way it is on standard output alone."""
    found, out, err = answer(capsys, *words, *(["--json"] if as_json else []))

    assert (found, err) == (code, "")
    assert out.strip()
    if as_json:
        assert isinstance(json.loads(out), dict)
        assert out.endswith("}\n")


def test_the_process_is_the_same_program(monkeypatch: pytest.MonkeyPatch, capsys: Captured) -> None:
    """Called as the console script does it, the words come from the command line of the process."""
    monkeypatch.setattr("sys.argv", ["waitwright", "check", OLD, "--json"])

    assert run() == 0
    assert json.loads(capsys.readouterr().out)["machine"] == OLD


# ---------------------------------------------------------------------------------- bad input


WRONG = [
    (["check", "tollgate-386dx34"], "no packed machine of that name (did you mean 'tollgate-386dx33'"),
    (["check", ""], "is a directory, expected a TOML file"),
    (["check", OLD, "--set", "cache-read"], "--set cache-read: expected OPTION=CHOICE"),
    (["check", OLD, "--set", "cache-raed=2-1-1-1"], "no option 'cache-raed' (did you mean 'cache-read'"),
    (["why", OLD, "--set", "cache-read=2-1-1"], "has no choice '2-1-1' (did you mean '2-1-1-1'"),
    (["why", OLD, "--set", "row-open=yes", "--set", "row-open=no"], "option 'row-open' is given twice"),
    (["rank", OLD, "--part", "cpu"], "--part cpu: expected SLOT=PART"),
    (["rank", OLD, "--part", "cup=386dx-40"], "--part cup=...: no such slot (did you mean 'cpu'"),
    (["rank", OLD, "--part", "cpu=386dx-41"], "no such part (did you mean '386dx-40'"),
    (["rank", OLD, "--part", "cpu=486dx-33", "--part", "cpu=none"], "slot 'cpu' is given twice"),
    (["rank", OLD, "--part", "logic=none"], "is soldered there and cannot be exchanged"),
    (["rank", OLD, "--part", "cpu=fpm-70"], "slot 'cpu' takes a part of kind 'cpu'"),
    (["rank", OLD, "--workload", "integr"], "--workload integr: no such workload (did you mean 'integer'"),
    (["rank", OLD, "--fix", "host-clocks"], "--fix host-clocks: no such option (did you mean 'host-clock'"),
    (["rules", "show", "l2.read.tga"], "no rule, part or figure of that name (did you mean 'l2.read.tag'"),
    (["rules", "list", "--kind", "bugdet"], "--kind bugdet: no such kind (did you mean 'budget'"),
    (["check", OLD, "--rules", "/no/such/folder"], "/no/such/folder: no such directory"),
    (["rules", "validate", "--rules", "/no/such/folder"], "/no/such/folder: no such directory"),
]


@pytest.mark.parametrize(("words", "line"), WRONG)
def test_wrong_words_are_one_line(words: list[str], line: str, capsys: Captured) -> None:
    """What cannot be meant is one line on standard error that offers the nearest; exit code 2."""
    code, out, err = answer(capsys, *words)

    assert (code, out) == (2, "")
    assert err.startswith("waitwright: ")
    assert err.count("\n") == 1
    assert line in err


def no_bytes(path: Path) -> None:
    """An empty file."""
    path.write_bytes(b"")


def no_text(path: Path) -> None:
    """A file of another code than UTF-8."""
    path.write_bytes('schema = 1\ntitle = "Prüfstand"\n'.encode("latin-1"))


def ten_megabytes(path: Path) -> None:
    """A file that nobody wrote by hand."""
    path.write_bytes(b"# " + b"x" * 10_000_000)


def deeply_nested(path: Path) -> None:
    """Brackets within brackets."""
    path.write_text("a = " + "[" * 5000 + "]" * 5000, "utf-8")


def folder(path: Path) -> None:
    """A folder under the name of a machine."""
    path.mkdir()


def no_toml(path: Path) -> None:
    """A file of something else."""
    path.write_text("<html>", "utf-8")


@pytest.mark.parametrize("command", ["check", "rank", "why"])
@pytest.mark.parametrize("damage", [no_bytes, no_text, ten_megabytes, deeply_nested, folder, no_toml])
def test_damaged_machine_files(
    command: str, damage: Callable[[Path], None], tmp_path: Path, capsys: Captured
) -> None:
    """A machine file that is none is told by its name, one line for each fault; exit code 2, no traceback."""
    path = tmp_path / "mill.toml"
    damage(path)

    code, out, err = answer(capsys, command, str(path))

    assert (code, out) == (2, "")
    lines = err.splitlines()
    assert 1 <= len(lines) <= 5
    assert all(line.startswith(f"waitwright: {path}") for line in lines)
    assert all(len(line) < 400 for line in lines)


@pytest.mark.parametrize("damage", [no_text, ten_megabytes, deeply_nested, no_toml])
def test_damaged_rule_files(damage: Callable[[Path], None], tmp_path: Path, capsys: Captured) -> None:
    """A rule file of the user's own that is none is told by its name, for every command."""
    damage(tmp_path / "mine.toml")

    for words in (["check", OLD], ["why", OLD], ["rules", "list"], ["rules", "validate"]):
        code, out, err = answer(capsys, *words, "--rules", str(tmp_path))
        assert (code, out) == (2, "")
        assert all(line.startswith(f"waitwright: {tmp_path / 'mine.toml'}") for line in err.splitlines())


def test_folders_of_no_rules(tmp_path: Path, capsys: Captured) -> None:
    """A folder without rule files, and a file in its place, are told as such."""
    file = tmp_path / "mine.toml"
    empty = tmp_path / "empty"
    empty.mkdir()
    file.write_text("", "utf-8")

    for path, said in ((empty, "holds no TOML file"), (file, "no such directory")):
        code, out, err = answer(capsys, "check", OLD, "--rules", str(path))
        assert (code, out, err.count("\n")) == (2, "", 1)
        assert err.startswith(f"waitwright: {path}: {said}")


def test_all_faults_of_a_machine_at_once(tmp_path: Path, capsys: Captured) -> None:
    """Several faults of one file are told together, each with its line and key."""
    path = tmp_path / "mill.toml"
    path.write_text(
        'schema = 1\ntitle = "Mill"\nboard = "harrow-h346"\n\n[fit]\ncpu = "386dx-34"\n\n'
        '[current]\nhost-clock = "34"\n',
        "utf-8",
    )

    code, _, err = answer(capsys, "check", str(path))

    assert code == 2
    assert f"{path}:6: fit.cpu" in err
    assert f"{path}:9: current.host-clock" in err
    assert "Traceback" not in err


# ----------------------------------------------------------------------------- whole processes


def process(*words: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """A whole process with its streams in pipes."""
    return subprocess.run(
        [sys.executable, "-m", "waitwright", *words],
        env={**os.environ, **environment},
        capture_output=True,
        encoding="utf-8",
        check=False,
    )


def on_a_terminal(*words: str, **environment: str) -> str:
    """What a whole process shows on a terminal of 80 columns."""
    import pty

    leader, follower = pty.openpty()
    plain = {
        key: value for key, value in os.environ.items() if key not in {"NO_COLOR", "FORCE_COLOR", "TERM"}
    }
    with subprocess.Popen(
        [sys.executable, "-m", "waitwright", *words],
        env={**plain, "TERM": "xterm", "COLUMNS": "80", **environment},
        stdin=follower,
        stdout=follower,
        stderr=follower,
    ) as child:
        os.close(follower)
        shown = b""
        while select.select([leader], [], [], 60)[0]:
            try:
                part = os.read(leader, 65536)
            except OSError:  # the other side has closed
                break
            if not part:
                break
            shown += part
        child.wait()
    os.close(leader)
    return shown.decode("utf-8")


def test_no_escape_codes_in_a_pipe() -> None:
    """What goes into a pipe or file is plain text, within 80 columns unless told otherwise."""
    done = process("why", OLD, "--set", "cache-read=2-1-1-1", COLUMNS="80", TERM="xterm")

    assert (done.returncode, done.stderr) == (0, "")
    assert "\x1b" not in done.stdout
    assert max(map(len, done.stdout.splitlines())) <= 80


@pytest.mark.skipif(os.name != "posix", reason="needs a POSIX terminal")
def test_colour_on_a_terminal_unless_unwanted() -> None:
    """A terminal gets colours; with NO_COLOR set, not a single escape code, and the same words."""
    coloured = on_a_terminal("why", OLD, "--set", "cache-read=2-1-1-1")
    plain = on_a_terminal("why", OLD, "--set", "cache-read=2-1-1-1", NO_COLOR="1")

    assert "\x1b[" in coloured
    assert "\x1b" not in plain
    assert "Falls short by 4.5 ns" in plain


@pytest.mark.skipif(os.name != "posix", reason="needs a POSIX pipe")
def test_reader_that_has_seen_enough() -> None:
    """A reader that takes the first line and leaves causes no complaint."""
    with subprocess.Popen(
        [sys.executable, "-m", "waitwright", "rules", "list"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        encoding="utf-8",
    ) as child:
        assert child.stdout is not None
        assert child.stderr is not None
        assert child.stdout.readline().startswith("kind")
        child.stdout.close()
        assert child.stderr.read() == ""


@pytest.mark.parametrize(("odds", "told"), [("1", "100 %"), ("0.9999", "99.99 %")])
def test_a_wish_is_told_as_given(odds: str, told: str, capsys: Captured) -> None:
    """The odds that were asked for are not rounded, nor made into a bound."""
    _, out, _ = answer(capsys, "rank", OLD, "--top", "1", "--odds", odds)

    said = " ".join(out.split())
    assert f"with odds of at least {told} to pass" in said
    assert ("No combination" not in said) or f"has odds of {told}." in said
