"""``waitwright new`` as it is typed: answers from a pipe and from a terminal, and what it leaves behind."""

from __future__ import annotations

import io
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pexpect
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.intake.test_dialogue import TO_END, TO_SETTINGS, TYPED
from tests.intake.test_editing import BEFORE, TEXT, lines_changed, read
from waitwright._resources import packed_profile
from waitwright.api.opening import open_machine
from waitwright.cli.main import run
from waitwright.intake.comments import TO_ENTER
from waitwright.intake.draft import text_of
from waitwright.rulebook.load import load_rulebook

ALL = [*TO_END, "yes"]
Typed = Callable[..., tuple[int, str, str]]


def stdin(content: bytes) -> io.TextIOWrapper:
    """A pipe that holds *content*."""
    return io.TextIOWrapper(io.BytesIO(content), encoding="utf-8")


def left() -> list[str]:
    """Names of everything in the current folder."""
    return sorted(path.name for path in Path().iterdir())


@pytest.fixture
def typed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Typed:
    """Run ``new`` with words and answers in an empty folder: exit status, standard output and error."""
    monkeypatch.chdir(tmp_path)

    def run_new(words: list[str], answers: list[str] | bytes = b"") -> tuple[int, str, str]:
        content = answers if isinstance(answers, bytes) else "\n".join([*answers, ""]).encode()
        monkeypatch.setattr(sys, "stdin", stdin(content))
        code = run(["new", *words])
        out, err = capsys.readouterr()
        return code, out, err

    return run_new


def test_piped_answers_make_a_profile(typed: Typed) -> None:
    """Answers on a pipe end in a file that is checked at once; standard output holds its path alone."""
    code, out, err = typed(["mine.toml"], ALL)

    assert (code, out) == (0, "mine.toml\n")
    assert "Question 4 of about" in err and "> 386dx-33" in err
    assert "Holds by data-sheet limits" in err
    assert "the machine does not have them yet" in " ".join(err.split())
    first, following = err.rstrip().splitlines()[-2:]
    assert "First enter these settings" in " ".join(err.split()) and "mine.toml lists them" in first
    assert following == "Next: waitwright next mine.toml"
    assert f"[current]\n# {TO_ENTER[0]}\n" in Path("mine.toml").read_text("utf-8")
    machine = open_machine("mine.toml", load_rulebook())
    assert machine.title == "The one under the stairs"
    assert left() == ["mine.toml"]


def test_path_as_json(typed: Typed) -> None:
    """With --json, standard output is one object with the path, and the talk stays on standard error."""
    code, out, err = typed(["mine.toml", "--json"], ALL)

    assert code == 0
    assert json.loads(out) == {"path": "mine.toml"}
    assert "Question 1" in err


def test_file_is_asked_for(typed: Typed) -> None:
    """Without a file on the command line its name is a question, with one made of the title as default."""
    code, out, _ = typed([], [*TO_END, "", "yes"])

    assert (code, out) == (0, "the-one-under-the-stairs.toml\n")


@pytest.mark.parametrize("count", [0, 1, 5, 12, len(TO_END)])
def test_answers_that_end_too_soon(typed: Typed, count: int) -> None:
    """Where the answers end before the questions, one line says at which, and nothing is written."""
    code, out, err = typed(["mine.toml"], TO_END[:count])

    assert (code, out) == (2, "")
    assert err.splitlines()[-1].startswith("waitwright: the answers end at question ")
    assert left() == []


def test_five_wrong_answers(typed: Typed) -> None:
    """Five wrong answers to one question end it with one line each and one at last."""
    code, out, err = typed(["mine.toml"], ["386dx-33", *["nonsense"] * 9])

    assert (code, out) == (2, "")
    assert err.count("expected slots of") == 5
    last = err.splitlines()[-1]
    assert last.startswith("waitwright: 5 wrong answers to question 2 (Which card slots has the board?")
    assert last.endswith("; nothing was written")
    assert left() == []


def test_last_answer_without_an_end_of_line(typed: Typed) -> None:
    """The last answer counts also where no end of line follows it, and so do line ends of other systems."""
    assert typed(["one.toml"], "\n".join(ALL).encode())[0] == 0
    assert typed(["two.toml"], b"\xef\xbb\xbf" + "\r\n".join(ALL).encode())[0] == 0

    assert Path("one.toml").read_bytes() == Path("two.toml").read_bytes()


def test_answers_that_are_no_text(typed: Typed) -> None:
    """An answer in another encoding is refused in one line, and nothing is written."""
    code, out, err = typed(["mine.toml"], "\n".join(TO_END[:-1]).encode() + "\nKüche".encode("latin-1"))

    assert (code, out) == (2, "")
    assert err.splitlines()[-1] == "waitwright: an answer is not UTF-8 text; nothing was written"
    assert left() == []


def test_titles_in_any_script(typed: Typed) -> None:
    """A title may hold any letters, quotes and signs, and is read back as it was typed."""
    title = "Küche \"486\" \\ 'x' # 計算機"
    assert typed(["mine.toml"], [*TO_END[:-1], title, "yes"])[0] == 0

    assert open_machine("mine.toml", load_rulebook()).title == title


# ------------------------------------------------------------------------------------- files


def test_existing_file_is_not_replaced_unasked(typed: Typed) -> None:
    """A file that is there is replaced only after a yes; without one it stays byte for byte."""
    Path("mine.toml").write_bytes(b"precious")
    code, _, err = typed(["mine.toml"], [*TO_END, "no", "no"])
    assert code == 2
    assert "mine.toml exists already. Replace it?" in err
    assert Path("mine.toml").read_bytes() == b"precious"

    assert typed(["mine.toml"], [*TO_END, "yes", "yes"])[0] == 0
    assert open_machine("mine.toml", load_rulebook()).title == "The one under the stairs"


def test_names_of_files(typed: Typed) -> None:
    """A name without an ending gets one, and a file is replaced under whatever way its name is written."""
    assert typed(["mine"], ALL)[:2] == (0, "mine.toml\n")
    assert typed([], [*TO_END, "./mine", "yes", "yes"])[:2] == (0, "mine.toml\n")
    code, _, err = typed([], [*TO_END, "nowhere/mine", ".", "..", "mine\x00", "x" * 300])

    assert code == 2
    assert "there is no folder for nowhere/mine.toml" in err
    assert left() == ["mine.toml"]


def test_own_board(typed: Typed, tmp_path: Path) -> None:
    """A board profile of one's own is named by its path, and the machine finds it from where it lies."""
    (tmp_path / "boards").mkdir()
    (tmp_path / "machines").mkdir()
    board = packed_profile("boards", "harrow-h346")
    assert board is not None
    (tmp_path / "boards" / "own.toml").write_bytes(board.read_bytes())
    answers = ["boards/own.toml" if answer == "harrow-h346" else answer for answer in ALL]

    assert typed(["machines/mine.toml"], answers)[0] == 0
    assert open_machine("machines/mine.toml", load_rulebook()).profile.board_name == "../boards/own.toml"


@pytest.mark.parametrize("name", ["nowhere.toml", "boards.toml", "x" * 500 + ".toml"])
def test_own_board_that_is_none(typed: Typed, name: str) -> None:
    """A board file that is missing or faulty is told in one line, and another board can be named."""
    Path("boards.toml").write_text("schema = 1\n", "utf-8")
    answers = [*TO_END[:4], name, *TO_END[4:], "yes"]

    assert typed(["mine.toml"], answers)[:2] == (0, "mine.toml\n")


def test_board_without_anything(typed: Typed) -> None:
    """A board profile that holds a title alone asks nothing more, and makes a profile all the same."""
    Path("bare.toml").write_text('schema = 1\ntitle = "A bare board"\n', "utf-8")
    answers = ["386dx-33", "isa", "", "", "bare.toml", "slow", "", "", "yes"]
    code, out, err = typed(["mine.toml"], answers)

    assert (code, out) == (0, "mine.toml\n")
    assert err.rstrip().endswith("Next: waitwright why mine.toml")


def test_file_that_appears_meanwhile_stays(typed: Typed, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file that was made by somebody else after the question is left as it is."""

    def and_meanwhile(*about: Any, **more: Any) -> str:
        Path("mine.toml").write_bytes(b"precious")
        return text_of(*about, **more)

    monkeypatch.setattr("waitwright.api.new.text_of", and_meanwhile)
    code, out, err = typed(["mine.toml"], ALL)

    assert (code, out) == (2, "")
    assert "exists already and is left as it is" in err.splitlines()[-1]
    assert Path("mine.toml").read_bytes() == b"precious"
    assert left() == ["mine.toml"]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["."], "no file can be made there"),
        (["nowhere/mine.toml"], "no file can be made there"),
        (["a.toml", "-o", "b.toml"], "name one thing twice"),
        (["--set", "cache-use=off"], "add --edit FILE"),
        (["--part", "cpu=386dx-40"], "add --edit FILE"),
        (["--edit", "a.toml", "--from", "tollgate-386dx33"], "stands alone"),
        (["--edit", "a.toml", "b.toml"], "stands alone"),
        (["--edit", "a.toml"], "a.toml: no such file"),
        (["--edit", "."], "cannot be read"),
        (["--edit", "tollgate-386dx33"], "copy it first, with new --from tollgate-386dx33"),
        (["--from", "tollgate"], "no packed machine of that name"),
    ],
)
def test_words_that_do_not_go_together(typed: Typed, words: list[str], told: str) -> None:
    """What cannot be is refused in one line before the first question."""
    code, out, err = typed(words, ALL)

    assert (code, out) == (2, "")
    assert told in err and len(err.splitlines()) == 1
    assert left() == []


def test_copy_takes_its_file_either_way(typed: Typed) -> None:
    """``new --from`` writes to FILE or to --output, and never over another file."""
    assert typed(["--from", "tollgate-386dx33", "one.toml"])[0] == 0
    assert typed(["--from", "tollgate-386dx33", "-o", "two.toml"])[0] == 0
    assert Path("one.toml").read_bytes() == Path("two.toml").read_bytes()

    code, _, err = typed(["--from", "tollgate-386dx33", "one.toml"])
    assert code == 2 and "exists already" in err


@pytest.mark.skipif(os.geteuid() == 0, reason="nothing is read-only for the superuser")
def test_read_only_folder(typed: Typed, tmp_path: Path) -> None:
    """Where nothing can be written, one line says so."""
    tmp_path.chmod(0o500)
    try:
        code, _, err = typed(["mine.toml"], ALL)
    finally:
        tmp_path.chmod(0o700)

    assert code == 2 and "cannot be written" in err.splitlines()[-1]


# -------------------------------------------------------------------------------------- edit


@pytest.fixture
def bench(tmp_path: Path) -> Path:
    """A profile with comments, in the folder where ``new`` is run."""
    path = tmp_path / "bench.toml"
    path.write_text(TEXT, "utf-8")
    return path


def test_edit_without_asking(typed: Typed, bench: Path) -> None:
    """``--set`` and ``--part`` change the profile at once; every other line stays, and the change is told."""
    code, out, err = typed(["--edit", "bench.toml", "--set", "cache-use=back", "--part", "cpu=386dx-40"])

    assert (code, out) == (0, "bench.toml\n")
    assert "CPU socket: 386DX, 33 MHz -> 386DX, 40 MHz" in err
    assert lines_changed(TEXT, bench.read_text("utf-8")) == (
        ['cpu="386dx-33" # no dash in its label\n', 'cache-use = "through" # write-back would be faster?\n'],
        ['cpu="386dx-40" # no dash in its label\n', 'cache-use = "back" # write-back would be faster?\n'],
    )
    assert left() == ["bench.toml"]


def test_part_takes_the_place_of_a_bank(typed: Typed, bench: Path) -> None:
    """A part for a bank replaces all parts there and keeps count and size; ``none`` empties a slot."""
    words = ["--part", "simm-0=fpm-60", "--part", "cache-1=sram-32kx8-15", "--part", "isa-1=none"]
    assert typed(["--edit", "bench.toml", *words])[0] == 0

    fit = {str(slot): fits for slot, fits in read(bench.read_text("utf-8")).fit.items()}
    assert [(fit.part, fit.count, fit.size) for fit in fit["simm-0"]] == [("fpm-60", 4, 1 << 20)]
    assert [(fit.part, fit.count) for fit in fit["cache-1"]] == [("sram-32kx8-15", 4)]
    assert "isa-1" not in fit


@pytest.mark.parametrize(
    "words", [["--set", "cache-use=through"], ["--part", "cpu=386dx-33"], ["--part", "simm-0=fpm-70"]]
)
def test_edit_that_changes_nothing(typed: Typed, bench: Path, words: list[str]) -> None:
    """A change to what is there already leaves the file untouched, down to its time of writing."""
    before = bench.stat().st_mtime_ns
    code, out, err = typed(["--edit", "bench.toml", *words])

    assert (code, out) == (0, "bench.toml\n")
    assert "Nothing to change" in err
    assert bench.stat().st_mtime_ns == before


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--set", "cache-use=bcak"], "back"),
        (["--set", "cach-use=back"], "cache-use"),
        (["--part", "cpu=386dx-34"], "386dx-33"),
        (["--part", "logic=82c836-16"], "soldered"),
        (["--part", "cpu"], "expected SLOT=PART"),
    ],
)
def test_edit_that_cannot_be(typed: Typed, bench: Path, words: list[str], told: str) -> None:
    """An unknown option, choice, slot or part is refused in one line, and the file stays."""
    code, out, err = typed(["--edit", "bench.toml", *words])

    assert (code, out) == (2, "")
    assert told in err and len(err.splitlines()) == 1
    assert bench.read_text("utf-8") == TEXT


def test_edit_by_dialogue(typed: Typed, bench: Path) -> None:
    """What changes is asked, shown and written after a yes; without one the file stays."""
    answers = ["cpu", "386DX-40", "cache-read", "as Burst", ""]
    code, _, err = typed(["--edit", "bench.toml"], answers)
    assert code == 2 and "the answers end" in err.splitlines()[-1]
    assert bench.read_text("utf-8") == TEXT

    code, out, err = typed(["--edit", "bench.toml"], [*answers, "yes"])
    assert (code, out) == (0, "bench.toml\n")
    assert "words for cache-read: SRAM burst -> Burst" in err
    gone, come = lines_changed(TEXT, bench.read_text("utf-8"))
    assert [line[:4] for line in gone] == ["cpu=", "cach"] and len(come) == 2


def test_own_comments_follow_an_edit(typed: Typed) -> None:
    """What ``new`` wrote beside a setting and a bank tells the truth after an edit by words or by answers."""
    assert typed(["mine.toml"], ALL)[0] == 0
    assert typed(["--edit", "mine.toml", "--set", "cache-read=2-1-1-1"])[0] == 0
    before = Path("mine.toml").read_text("utf-8")
    assert typed(["--edit", "mine.toml"], ["simm-0", "4x9-60", "simm-1", "same", "", "yes"])[0] == 0

    gone, come = lines_changed(before, Path("mine.toml").read_text("utf-8"))
    assert 'cache-read = "2-1-1-1" # Cache read rhythm: 2-1-1-1' in before
    assert [line.rpartition("# ")[2] for line in gone] == [f"memory bank {n}: 30-pin 1 MB\n" for n in (0, 1)]
    assert [line.rpartition("# ")[2] for line in come] == [
        f"memory bank {n}: 30-pin 4 MB, parity\n" for n in (0, 1)
    ]


def test_slow_settings_that_do_not_hold_are_not_to_be_entered(typed: Typed) -> None:
    """Where nothing holds, because a bank is half full, nobody is told to enter such settings."""
    answers = [*TO_END[: TO_END.index("8 x 1 MB -70")], "2 x 1 MB -70", "a", "none", "none", "none"]
    code, _, err = typed(["mine.toml"], [*answers, "slow", "none", "Half full", "yes"])

    assert code == 0
    assert "First enter" not in err and err.rstrip().endswith("Next: waitwright why mine.toml")


def test_edit_without_changes_by_dialogue(typed: Typed, bench: Path) -> None:
    """Enter at the first question changes nothing, and says so."""
    code, out, err = typed(["--edit", "bench.toml"], [""])

    assert (code, out) == (0, "bench.toml\n")
    assert "Nothing to change" in err
    assert bench.read_text("utf-8") == TEXT


def test_profile_changed_meanwhile_stays(bench: Path) -> None:
    """A profile that somebody else changed during the questions is not written over."""
    from dataclasses import replace

    from waitwright.api.edit import describe_changes
    from waitwright.errors import UsageError

    intake = describe_changes(bench)
    bench.write_text(TEXT + "# more\n", "utf-8")
    with pytest.raises(UsageError, match="changed meanwhile"):
        intake.write(replace(intake.draft, title="Another"))

    assert bench.read_text("utf-8") == TEXT + "# more\n"


@pytest.mark.parametrize("content", [b"", b"schema = 1", b"\xff\xfe", b"[", b"[[slot]]\nid = 'x'\n"])
def test_broken_profile_is_not_edited(typed: Typed, bench: Path, content: bytes) -> None:
    """A profile that cannot be read is refused with its errors, and stays."""
    bench.write_bytes(content)
    code, out, err = typed(["--edit", "bench.toml", "--set", "cache-use=back"])

    assert (code, out) == (2, "")
    assert all(line.startswith("waitwright: bench.toml") for line in err.splitlines())
    assert bench.read_bytes() == content


def test_permissions_and_links_are_kept(typed: Typed, bench: Path) -> None:
    """An edit keeps the permissions of a file, and follows a link instead of replacing it."""
    bench.chmod(0o640)
    Path("link.toml").symlink_to(bench)
    assert typed(["--edit", "link.toml", "--set", "cache-use=back"])[0] == 0

    assert Path("link.toml").is_symlink()
    assert bench.stat().st_mode & 0o777 == 0o640
    assert read(bench.read_text("utf-8")) != BEFORE


# ---------------------------------------------------------------------------------- processes

PROGRAM = [sys.executable, "-m", "waitwright"]


def test_interrupt_leaves_nothing(tmp_path: Path) -> None:
    """Ctrl-C between two answers ends with status 130, without a traceback and without a file."""
    process = subprocess.Popen(
        [*PROGRAM, "new", "mine.toml"],
        cwd=tmp_path,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert process.stdin is not None and process.stderr is not None
    process.stdin.write("\n".join([*TO_SETTINGS, ""]).encode())
    process.stdin.flush()
    seen = b""
    while b"more settings" not in seen:
        seen += os.read(process.stderr.fileno(), 65536)
    time.sleep(0.1)
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=60)

    assert process.returncode == 130
    assert out == b"" and b"Traceback" not in seen + err
    assert list(tmp_path.iterdir()) == []


def spawned(folder: Path) -> Any:
    """``new`` at a terminal of its own, wide enough that nothing expected is wrapped."""
    return pexpect.spawn(
        PROGRAM[0], [*PROGRAM[1:], "new"], cwd=str(folder), encoding="utf-8", timeout=60, dimensions=(40, 120)
    )


def test_at_a_terminal(tmp_path: Path) -> None:
    """At a terminal each question waits for its answer, wrong ones are borne, and only the path is output."""
    child = spawned(tmp_path)
    child.expect_exact("Which CPU?")
    for _ in range(7):
        child.sendline("abacus")
        child.expect_exact("no such CPU")
    child.sendline("?")
    child.expect(r"behind\s+the\s+dash\s+is\s+MHz")
    for answer in [*TO_END, "stairs.toml", "yes"]:
        child.expect_exact("> ")
        child.sendline(answer)
    child.expect_exact("stairs.toml written.")
    child.expect(pexpect.EOF)
    child.close()

    assert child.exitstatus == 0
    assert [path.name for path in tmp_path.iterdir()] == ["stairs.toml"]


def test_interrupt_at_a_terminal(tmp_path: Path) -> None:
    """Ctrl-C at the terminal, and the end of input there, leave no file and no traceback."""
    for sign, status in (("\x03", 130), ("\x04", 2)):
        child = pexpect.spawn(
            PROGRAM[0], [*PROGRAM[1:], "new"], cwd=str(tmp_path), encoding="utf-8", timeout=60
        )
        child.expect_exact("> ")
        child.sendline("386dx-33")
        child.expect_exact("[isa] > ")
        child.send(sign)
        child.expect(pexpect.EOF)
        child.close()
        assert child.exitstatus == status
        assert "Traceback" not in child.before

    assert list(tmp_path.iterdir()) == []


# ------------------------------------------------------------------------------------ anything


@given(st.integers(0, len(ALL)), st.lists(TYPED, max_size=12), st.binary(max_size=20))
@settings(max_examples=12, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
def test_any_answers_end_in_a_profile_or_one_line(
    typed: Typed, tmp_path: Path, place: int, lines: list[str], rest: bytes
) -> None:
    """Whatever comes down the pipe, the end is a profile that opens, or one clear line and no file."""
    for path in tmp_path.iterdir():
        path.unlink()
    answers = [*ALL[:place], *(line.replace("\n", " ") for line in lines)]
    code, out, err = typed(["mine.toml"], "\n".join(answers).encode(errors="replace") + b"\n" + rest)

    if code == 0:
        assert out == "mine.toml\n"
        open_machine("mine.toml", load_rulebook())
    else:
        assert (code, out) == (2, "")
        assert err.splitlines()[-1].startswith("waitwright: ")
        assert left() == []
