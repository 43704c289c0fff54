"""The entry point: one line and the right exit code for whatever goes wrong, and never a traceback."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from typing import Any

import pytest

import waitwright
import waitwright.cli.app
from waitwright.cli.main import DEBUG, run
from waitwright.errors import FileProblems, NoAnswer, PackedDataMissing, Problem, UsageError

Captured = pytest.CaptureFixture[str]


@pytest.fixture
def failing(monkeypatch: pytest.MonkeyPatch) -> Callable[[BaseException], int]:
    """Runs a command line whose command raises the given error; returns the exit code."""

    def fail(error: BaseException) -> int:
        def command(*_: Any, **__: Any) -> int:
            raise error

        monkeypatch.setattr(waitwright.cli.app, "command", lambda: command)
        return run(["check", "mill"])

    return fail


@pytest.mark.parametrize("words", [["--version"], ["--version", "--help"]])
def test_version(words: list[str], capsys: Captured) -> None:
    """The version is told both the quick way and by the full command line."""
    assert run(words) == 0

    assert capsys.readouterr().out == f"waitwright {waitwright.__version__}\n"


def test_nothing_asked_shows_help(capsys: Captured) -> None:
    """Without any words the help is shown, which names every command."""
    assert run([]) == 0

    out = capsys.readouterr().out
    for command in ("check", "rank", "why", "rules"):
        assert f"\n  {command} " in out


@pytest.mark.parametrize(
    ("words", "line"),
    [
        (["bogus"], "waitwright: No such command 'bogus' (see: waitwright --help)"),
        (["check"], "waitwright: Missing argument 'MACHINE' (see: waitwright check --help)"),
        (["check", "mill", "--bogus"], "waitwright: No such option: --bogus (see: waitwright check --help)"),
        (["rules"], "waitwright: Missing command (see: waitwright rules --help)"),
    ],
)
def test_wrong_words(words: list[str], line: str, capsys: Captured) -> None:
    """A wrong command line is answered with one line on standard error, where help is, and exit code 2."""
    assert run(words) == 2

    assert capsys.readouterr() == ("", line + "\n")


@pytest.mark.parametrize(
    "words",
    [
        ["--odds", "1.01"],
        ["--odds", "-0.1"],
        ["--odds", "nan"],
        ["--odds", "likely"],
        ["--soak", "nan"],
        ["--soak", "inf"],
        ["--soak", "0.05"],
        ["--apart", "nan"],
        ["--apart", "51"],
        ["--top", "0"],
        ["--top", "1001"],
        ["--top", "2.5"],
        ["--seed", "-1"],
        ["--seed"],
        ["--rated=yes"],
    ],
)
def test_wrong_values(words: list[str], capsys: Captured) -> None:
    """A value out of range or of the wrong kind is refused in one line that names the option."""
    assert run(["rank", "mill", *words]) == 2

    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1
    assert words[0].split("=")[0] in err


@pytest.mark.parametrize(
    "words",
    [
        ["check", "--soak", "nan"],
        ["rank", "--odds", "nan"],
        ["rank", "--apart", "nan"],
        ["swap", "--odds", "nan"],
    ],
)
def test_what_is_no_number(words: list[str], capsys: Captured) -> None:
    """A "nan" is refused with the range that was expected, not as a number that is too large."""
    command, option, value = words

    assert run([command, "mill", option, value]) == 2

    err = capsys.readouterr().err
    assert err.startswith(f"waitwright: Invalid value for '{option}': expected a number from ")
    assert f", found '{value}' " in err


@pytest.mark.parametrize(
    ("error", "code", "lines"),
    [
        (UsageError("mill: no such file"), 2, ["waitwright: mill: no such file"]),
        (
            FileProblems(
                (
                    Problem("a.toml", "board", "missing", line=3),
                    Problem("a.toml", "fit", "empty", "name parts"),
                )
            ),
            2,
            ["waitwright: a.toml:3: board: missing", "waitwright: a.toml: fit: empty (name parts)"],
        ),
        (NoAnswer("no combination holds"), 1, ["waitwright: no combination holds"]),
        (PackedDataMissing("install again"), 2, ["waitwright: install again"]),
        (
            PermissionError(13, "Permission denied", "mill.toml"),
            2,
            ["waitwright: mill.toml: Permission denied"],
        ),
        (KeyboardInterrupt(), 130, []),
    ],
)
def test_errors_become_lines(
    error: BaseException,
    code: int,
    lines: list[str],
    failing: Callable[[BaseException], int],
    capsys: Captured,
) -> None:
    """Each kind of error has its exit code, and one line for each thing that is wrong."""
    assert failing(error) == code

    assert capsys.readouterr() == ("", "".join(line + "\n" for line in lines))


def test_defects_are_one_line_too(failing: Callable[[BaseException], int], capsys: Captured) -> None:
    """A mistake of the program itself is told in one line, with its place, under a code of its own."""
    assert failing(ZeroDivisionError("division\nby zero")) == 70

    (line,) = capsys.readouterr().err.splitlines()
    assert line.startswith("waitwright: defect at test_entry.py:")
    assert "ZeroDivisionError: division by zero" in line


def test_defects_show_themselves_on_request(
    failing: Callable[[BaseException], int], monkeypatch: pytest.MonkeyPatch
) -> None:
    """With the debugging variable set, a defect is raised with its traceback."""
    monkeypatch.setenv(DEBUG, "1")

    with pytest.raises(ZeroDivisionError):
        failing(ZeroDivisionError())


def process(*words: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """A whole process, with *environment* on top of this one's."""
    return subprocess.run(
        [sys.executable, "-m", "waitwright", *words],
        env={**os.environ, **environment},
        capture_output=True,
        encoding="utf-8",
        check=False,
    )


def test_module_and_exit_code() -> None:
    """``python -m waitwright`` is the same program, and its exit code reaches the shell."""
    done = process("bogus")

    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == "waitwright: No such command 'bogus' (see: waitwright --help)\n"


def test_unknown_machine() -> None:
    """A machine that is neither a file nor packed is one line, exit code 2, for every command."""
    for command in ("check", "rank", "why"):
        done = process(command, "tolgate-386dx33")

        assert (done.returncode, done.stdout) == (2, "")
        (line,) = done.stderr.splitlines()
        assert line.startswith("waitwright: tolgate-386dx33: ")
        assert "tollgate-386dx33" in line.removeprefix("waitwright: tolgate-386dx33: ")


@pytest.mark.skipif(os.name != "posix", reason="needs a POSIX pipe")
def test_reader_that_leaves_early() -> None:
    """A reader that closes the pipe at once gets no complaint, and the status does not say "none"."""
    for words in (("--version",), ("--help",), ("rules", "list", "--json")):
        reading, writing = os.pipe()
        os.close(reading)
        try:
            done = subprocess.run(
                [sys.executable, "-m", "waitwright", *words],
                stdout=writing,
                stderr=subprocess.PIPE,
                text=True,
                check=False,
            )
        finally:
            os.close(writing)

        assert (done.returncode, done.stderr) == (0, "")


def test_plain_terminal() -> None:
    """A terminal that knows only ASCII still gets every answer."""
    done = process("check", "tollgate-386dx33", PYTHONIOENCODING="ascii", LC_ALL="C")

    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.isascii()


def test_same_answer_for_any_hash_seed() -> None:
    """The order in which Python keeps sets never shows."""
    for words in (("check", "tollgate-386dx33", "--json"), ("why", "tollgate-486dx2", "--json")):
        first, second = (process(*words, PYTHONHASHSEED=seed).stdout for seed in ("1", "2"))

        assert first
        assert first == second
