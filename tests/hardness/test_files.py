"""Whatever stands where a file is expected: a clear line, and nothing of the owner's is touched."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import pytest

from waitwright.cli.main import run

from .bench import laid

posix = pytest.mark.skipif(os.name != "posix", reason="file kinds of POSIX systems")


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a machine, as the current one."""
    monkeypatch.chdir(laid(tmp_path))
    return tmp_path


def huge(path: Path) -> None:
    """A file far above what a profile may be, without taking room on the disk."""
    with path.open("wb") as stream:
        stream.truncate(1 << 34)


def rewritten(change: Callable[[bytes], bytes]) -> Callable[[Path], None]:
    """The machine's own profile with *change*."""

    def write(path: Path) -> None:
        path.write_bytes(change(Path("attic.toml").read_bytes()))

    return write


KINDS: dict[str, tuple[Callable[[Path], object], str]] = {
    "folder": (Path.mkdir, "is a directory"),
    "pipe": (os.mkfifo, "is not a regular file"),
    "link to nowhere": (lambda path: path.symlink_to("nowhere"), "no such file"),
    "link to itself": (lambda path: path.symlink_to(path.name), "no such file"),
    "link to a device": (lambda path: path.symlink_to("/dev/zero"), "is not a regular file"),
    "huge": (huge, "larger than 1 MiB"),
    "nothing": (Path.touch, "is empty"),
    "zeros": (lambda path: path.write_bytes(bytes(4000)), "not valid TOML"),
    "zero inside": (rewritten(lambda raw: raw + b'note = "\0"\n'), "not valid TOML"),
    "old line ends": (rewritten(lambda raw: raw.replace(b"\n", b"\r")), "not valid TOML"),
    "UTF-16": (rewritten(lambda raw: raw.decode().encode("utf-16")), "is not UTF-8"),
    "Latin-1": (rewritten(lambda raw: raw.decode().encode("latin-1", "ignore")), "is not UTF-8"),
    "noise": (lambda path: path.write_bytes(bytes(range(256)) * 20), "is not UTF-8"),
    "cut in half": (rewritten(lambda raw: raw[: len(raw) // 2]), "odd.toml"),
}


@posix
@pytest.mark.parametrize("kind", list(KINDS))
@pytest.mark.parametrize("command", ["check", "record"])
def test_machine_that_is_no_profile(
    command: str, kind: str, bench: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What is no profile is told in lines that name the file, and no logbook is begun beside it."""
    make, reason = KINDS[kind]
    make(bench / "odd.toml")
    words = ["stable", "--set", "memory-rhythm=fast"] if command == "record" else []

    assert run([command, "odd.toml", *words]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert all(line.startswith("waitwright: ") for line in err.splitlines())
    assert "odd.toml" in err
    assert reason in err
    assert list(bench.glob("odd.logbook*")) == []


@posix
@pytest.mark.parametrize(
    "change",
    [
        rewritten(lambda raw: b"\xef\xbb\xbf" + raw),
        rewritten(lambda raw: raw.replace(b"\n", b"\r\n")),
        lambda path: path.symlink_to("attic.toml"),
        lambda path: path.hardlink_to("attic.toml"),
    ],
    ids=["byte order mark", "CRLF", "symbolic link", "hard link"],
)
@pytest.mark.parametrize("name", ["plain.toml", "zwei Wörter ½ 東京.toml", "-dash.toml", "a'b\"c$d.toml"])
def test_machine_that_is_unusual(
    name: str, change: Callable[[Path], None], bench: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Windows files, links and names of any signs are as good as others, for the logbook too."""
    change(bench / name)

    assert run(["record", "--set", "memory-rhythm=fast", "--json", "--", name, "stable"]) == 0
    assert capsys.readouterr().err == ""
    book = bench / f"{name.removesuffix('.toml')}.logbook.toml"
    assert book.read_text("utf-8").count("[[trial]]") == 1


@posix
@pytest.mark.parametrize(
    ("make", "reason"),
    [
        (Path.mkdir, "is a directory"),
        (os.mkfifo, "is not a regular file"),
        (lambda path: path.write_text('schema = 2\nmachine = "attic"\n', "utf-8"), "newer than this program"),
        (lambda path: path.write_text("schema = 1\n", "utf-8"), 'missing key "machine"'),
        (Path.touch, "is empty"),
        (huge, "larger than 1 MiB"),
    ],
    ids=["folder", "pipe", "newer layout", "no machine", "nothing", "huge"],
)
def test_logbook_that_is_none(
    make: Callable[[Path], object], reason: str, bench: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A logbook that cannot be read is told in one line, and never written over."""
    book = bench / "attic.logbook.toml"
    make(book)
    before = (book.lstat().st_mode, book.lstat().st_size, book.lstat().st_mtime_ns)

    for words in (["next", "attic.toml"], ["record", "attic.toml", "stable", "--set", "memory-rhythm=fast"]):
        assert run(words) == 2
        (line,) = capsys.readouterr().err.splitlines()
        assert line.startswith("waitwright: attic.logbook.toml")
        assert reason in line
    assert before == (book.lstat().st_mode, book.lstat().st_size, book.lstat().st_mtime_ns)


@contextmanager
def unwritable(folder: Path) -> Iterator[None]:
    """Nobody may change *folder*: by permissions, or where the user is above them, by mark of the system."""
    if os.geteuid():
        folder.chmod(0o555)
        try:
            yield
        finally:
            folder.chmod(0o755)
        return
    immutable = mark(folder, 0x10)
    if not immutable:
        pytest.skip("the user is above permissions, and the file system has no mark against writing")
    try:
        yield
    finally:
        mark(folder, 0)


def mark(folder: Path, flags: int) -> bool:
    """Set the inode flags of *folder* (0x10: immutable), as ``chattr`` does."""
    import fcntl
    import struct

    get, put = 0x80086601, 0x40086602
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        (before,) = struct.unpack("l", fcntl.ioctl(descriptor, get, bytes(struct.calcsize("l"))))
        fcntl.ioctl(descriptor, put, struct.pack("l", (before & ~0x10) | flags))
    except OSError:
        return False
    finally:
        os.close(descriptor)
    return True


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="permissions and marks of Linux")
@pytest.mark.parametrize(
    "words",
    [
        ["record", "attic.toml", "stable", "--set", "memory-rhythm=fast"],
        ["next", "attic.toml"],
        ["new", "--from", "tollgate-386dx33", "-o", "mine.toml"],
        ["sheet", "attic.toml", "-o", "sheet.html"],
        ["rules", "schema", "-o", "schemas"],
    ],
    ids=lambda words: words[0],
)
def test_read_only_folder(words: list[str], bench: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Where nothing can be written one line says so, and reading goes on as ever."""
    before = sorted(bench.iterdir())
    with unwritable(bench):
        assert run(words) == 2
        (line,) = capsys.readouterr().err.splitlines()
        assert line.startswith("waitwright: ")
        assert "ermi" in line or "ead-only" in line
        assert run(["check", "attic.toml", "--rated"]) == 0

    assert sorted(bench.iterdir()) == before


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system with room for very little."""
    import subprocess

    place = tmp_path / "disk"
    place.mkdir()
    if not sys.platform.startswith("linux") or os.geteuid():
        pytest.skip("only root can make a small file system")
    made = subprocess.run(
        ["/bin/mount", "-t", "tmpfs", "-o", "size=16k", "tmpfs", str(place)], capture_output=True, check=False
    )
    if made.returncode:
        pytest.skip("no file system can be mounted here")
    try:
        yield place
    finally:
        os.chdir("/")
        subprocess.run(["/bin/umount", str(place)], check=True)


def test_disk_that_fills_up(
    small_disk: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """On a disk that fills up a trial is recorded or refused in one line; none that was recorded is lost."""
    monkeypatch.chdir(laid(small_disk))
    book = small_disk / "attic.logbook.toml"
    recorded, refused = 0, 0
    while refused < 3:
        code = run(["record", "attic.toml", "stable", "--set", "memory-rhythm=fast", "--note", "x" * 500])
        err = capsys.readouterr().err
        recorded += code == 0
        if code:
            refused += 1
            assert "No space left on device" in err
            assert len(err.splitlines()) == 1
        assert book.read_text("utf-8").count("[[trial]]") == recorded
        assert not list(small_disk.glob("*.new"))

    assert recorded > 2
    with suppress(OSError), (small_disk / "rest").open("wb", buffering=0) as rest:
        while rest.write(bytes(512)):
            pass
    before = sorted(small_disk.iterdir())
    for words in (["new", "--from", "tollgate-386dx33", "-o", "big.toml"], ["sheet", "attic.toml"]):
        assert run(words) == 2
        assert "No space left" in capsys.readouterr().err
    assert sorted(small_disk.iterdir()) == before
