"""Reading TOML files within bounds."""

from __future__ import annotations

import os
import sys
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from waitwright.errors import FileProblems, Problem
from waitwright.schema.tomlfile import MAX_BYTES, read_toml


def problem_of(source: Path | str, name: str = "x.toml") -> Problem:
    """The single problem that reading *source* ends with."""
    with pytest.raises(FileProblems) as caught:
        read_toml(source, name)
    (problem,) = caught.value.problems
    return problem


def test_decimals_are_exact() -> None:
    """A decimal in a file keeps every digit it was written with and is never a float."""
    file = read_toml("tenth = 0.1\nclock = 14.318180", "x.toml")

    assert file.data == {"tenth": Decimal("0.1"), "clock": Decimal("14.318180")}
    assert all(isinstance(value, Decimal) for value in file.data.values())


def test_windows_files_are_read(tmp_path: Path) -> None:
    """A byte-order mark and Windows line ends do no harm, and lines are still counted right."""
    path = tmp_path / "dos.toml"
    path.write_bytes(b"\xef\xbb\xbfa = 1\r\nb = 2\r\n")

    file = read_toml(path, "dos.toml")

    assert file.data == {"a": 1, "b": 2}
    assert file.problem(("b",), "m").line == 2


def test_missing_file(tmp_path: Path) -> None:
    """A missing file is told as such, with the name that the user gave."""
    problem = problem_of(tmp_path / "none.toml", "none.toml")

    assert str(problem) == "none.toml: no such file (check the name)"


def test_directory(tmp_path: Path) -> None:
    """A directory is told as such."""
    assert problem_of(tmp_path).message == "is a directory, expected a TOML file"


def test_name_that_no_file_can_have() -> None:
    """A name with a NUL character is refused like any other unusable name."""
    problem = problem_of(Path("a\0b"), "a?b")

    assert problem.message in {"cannot be read: the name is not usable", "no such file"}


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs named pipes")
def test_named_pipe(tmp_path: Path) -> None:
    """A named pipe is refused at once instead of being waited for."""
    pipe = tmp_path / "pipe.toml"
    os.mkfifo(pipe)

    assert problem_of(pipe).message == "is not a regular file, expected a TOML file"


@pytest.mark.parametrize("text", ["", "   \n\n", "\ufeff"])
def test_empty_file(tmp_path: Path, text: str) -> None:
    """A file without content is told as empty, whatever blanks it holds."""
    path = tmp_path / "empty.toml"
    path.write_text(text, "utf-8")

    assert problem_of(path).message == "is empty, expected TOML tables"


def test_huge_file(tmp_path: Path) -> None:
    """Ten megabytes are refused without being read to the end."""
    path = tmp_path / "huge.toml"
    with path.open("wb") as stream:
        stream.truncate(10 << 20)

    assert "larger than 1 MiB" in problem_of(path).message


def test_size_bound_is_inclusive(tmp_path: Path) -> None:
    """A file of exactly the allowed size is read, one byte more is refused."""
    path = tmp_path / "full.toml"
    body = b"# fill\n" * (MAX_BYTES // 7)
    path.write_bytes(body + b"#" * (MAX_BYTES - len(body)))

    assert read_toml(path, "full.toml").data == {}

    path.write_bytes(path.read_bytes() + b"#")
    assert "larger than 1 MiB" in problem_of(path).message


def test_other_encodings(tmp_path: Path) -> None:
    """Text that is not UTF-8 is refused with the line where it stops being so."""
    path = tmp_path / "latin.toml"
    path.write_bytes(b'a = 1\ntitle = "R\xfcckseite"\n')

    assert str(problem_of(path)) == "x.toml:2: is not UTF-8 text (save it as UTF-8)"


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("a = 1\na = 2\n", 2, "cannot overwrite a value"),
        ("a = 1\nb = [1, 2\n", 2, "not valid TOML"),
        ("a = 1\n\nthis is no toml\n", 3, "expected '='"),
        ('a = "unended\n', 1, "not valid TOML"),
        ("[a]\n[a]\n", 2, "cannot declare"),
    ],
)
def test_syntax_errors_carry_their_line(text: str, line: int, words: str) -> None:
    """Broken TOML, and a key given twice, are told with the line."""
    problem = problem_of(text)

    assert problem.line == line
    assert words in problem.message
    assert "\n" not in str(problem)


@pytest.mark.parametrize(
    "text",
    [
        "a = " + "[" * 13 + "]" * 13,
        "[" + ".".join("abcdefghijklmn") + "]\nx = 1",
        "a." + ".".join("b" * 60) + " = 1",
        "\n".join("a = [" if n == 0 else "[" for n in range(20_000)) + "\n" + "]\n" * 20_000,
    ],
)
def test_deep_nesting(text: str) -> None:
    """Nesting beyond the bound is refused, however it is written and however deep it is."""
    assert problem_of(text).message == "nested more than 12 levels deep"


def test_nesting_within_the_bound() -> None:
    """Eleven lists inside one another under one key are still read."""
    assert read_toml("a = " + "[" * 11 + "]" * 11, "x.toml").data


def test_long_line() -> None:
    """A line of absurd length is refused before the parser has to work through it."""
    problem = problem_of("a = 1\n" + "a." * 3000 + "b = 1")

    assert (problem.line, problem.message) == (2, "a line of more than 4000 characters")


def test_absurd_numbers_do_not_hang() -> None:
    """Numbers with thousands of digits or huge exponents are refused or kept as they are, in no time."""
    before = sys.get_int_max_str_digits()
    sys.set_int_max_str_digits(640)
    try:
        assert problem_of("a = " + "9" * 3900).message == "holds a number or a date that cannot be read"
    finally:
        sys.set_int_max_str_digits(before)
    assert read_toml("a = 1e999999999999999999999", "x.toml").data["a"].is_nan()
    assert read_toml("a = 1e99999", "x.toml").data["a"].is_finite()


@given(st.binary(max_size=400))
def test_any_bytes(raw: bytes) -> None:
    """Whatever bytes a file holds, reading gives tables or problems of one line each."""

    class Packed:
        def is_dir(self) -> bool:
            return False

        def read_bytes(self) -> bytes:
            return raw

    try:
        assert isinstance(read_toml(Packed(), "x.toml").data, dict)
    except FileProblems as error:
        assert all(len(str(problem).splitlines()) == 1 for problem in error.problems)


@given(st.text(alphabet="ab.=[]{}\"'\\#,\n 10e-:tfu", max_size=80))
def test_any_text_that_looks_like_toml(text: str) -> None:
    """Text made of TOML's own signs gives tables or problems of one line each, never anything else."""
    try:
        assert isinstance(read_toml(text, "x.toml").data, dict)
    except FileProblems as error:
        assert all(len(str(problem).splitlines()) == 1 for problem in error.problems)
