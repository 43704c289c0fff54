"""The logbook's file: one writer at a time, nothing lost, nothing overwritten that cannot be read."""

from __future__ import annotations

import errno
import os
import stat
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import NoReturn

import pytest

from waitwright.errors import FileProblems, InputError, UsageError
from waitwright.trials.logbook import Logbook, add, withdraw
from waitwright.trials.logfile import dump_logbook
from waitwright.trials.safekeeping import lock_beside, locked
from waitwright.trials.store import LogbookStore

from .logbooks import NOON, choices, with_trials

RECORDER = Path(__file__).with_name("recorder.py")
POSIX = pytest.mark.skipif(sys.platform == "win32", reason="needs POSIX")
LOST_NOTHING = "nothing was written, and nothing is lost"


def one_more(note: str = "") -> Callable[[Logbook], Logbook]:
    """A change that records one trial."""
    return lambda logbook: add(logbook, time=NOON, settings=choices(clock="33"), outcome="stable", note=note)


def names_in(folder: Path) -> set[str]:
    """Names of the files in *folder*, but for the lock."""
    return {path.name for path in folder.iterdir() if path.suffix != ".lock"}


def refusal(store: LogbookStore, change: Callable[[Logbook], Logbook]) -> str:
    """The one line with which *change* is refused; the file, if any, must be as before, and alone."""
    folder = store.path.parent
    before = store.path.read_bytes() if store.path.exists() else None
    names = names_in(folder)
    with pytest.raises(InputError) as caught:
        store.change(change)
    assert (store.path.read_bytes() if store.path.exists() else None) == before
    assert names_in(folder) == names
    assert "\n" not in str(caught.value)
    return str(caught.value)


@pytest.fixture
def store(tmp_path: Path) -> LogbookStore:
    """A store in an empty folder."""
    return LogbookStore(tmp_path / "bench.logbook.toml")


@pytest.fixture
def kept(store: LogbookStore) -> LogbookStore:
    """A store with one trial."""
    store.change(one_more("first"))
    return store


# ---------------------------------------------------------------------------------------- in peace


def test_the_logbook_is_beside_the_profile(tmp_path: Path) -> None:
    """The file is named after the machine and sits beside its profile."""
    assert LogbookStore.beside(tmp_path / "bench.toml").path == tmp_path / "bench.logbook.toml"


def test_no_file_is_an_empty_logbook(store: LogbookStore) -> None:
    """A machine without a file has an empty logbook, and looking at it writes nothing."""
    assert store.read() == Logbook("bench")
    assert list(store.path.parent.iterdir()) == []


def test_what_is_recorded_is_read(store: LogbookStore) -> None:
    """Changes follow one another, and only the logbook and its lock remain."""
    store.change(one_more("a"))
    after = store.change(one_more("b"))

    assert store.read() == after == with_trials("a", "b")
    assert names_in(store.path.parent) == {"bench.logbook.toml"}


def test_undo_is_a_mark_in_the_file(store: LogbookStore) -> None:
    """Withdrawing adds one line to the file and takes none away."""
    store.change(one_more("a"))
    before = store.path.read_text("utf-8").splitlines()

    store.change(withdraw)

    after = store.path.read_text("utf-8").splitlines()
    assert [line for line in after if line not in before] == ["withdrawn = true"]
    assert len(after) == len(before) + 1


def test_no_change_writes_nothing(kept: LogbookStore) -> None:
    """A change that changes nothing leaves the very same file."""
    before = kept.path.stat()

    kept.change(lambda logbook: logbook)

    assert kept.path.stat().st_ino == before.st_ino


def test_a_change_that_fails_writes_nothing(kept: LogbookStore) -> None:
    """An error inside a change comes through, the file stays, and the lock is free again."""

    def refuse(_: Logbook) -> Logbook:
        raise UsageError("no")

    assert refusal(kept, refuse) == "no"
    assert kept.change(one_more()).next_number == 3


def test_settings_of_another_machine_are_kept(store: LogbookStore) -> None:
    """Options and choices that no machine knows pass through reading and writing unharmed."""
    settings = choices(gone_option="x.9", clock="33")
    store.change(lambda logbook: add(logbook, time=NOON, settings=settings, outcome="failed"))

    store.change(one_more())

    assert store.read().trials[0].settings == settings


# ----------------------------------------------------------------------------------- damaged files


@pytest.mark.parametrize(
    ("damage", "message"),
    [
        (lambda text: "", "is empty, expected TOML tables"),
        (lambda text: text[: len(text) // 2], "not valid TOML"),
        (lambda text: text.replace('"stable"', '"stabel"'), ':9: trial[0].outcome: expected "stable"'),
        (lambda text: text.replace("schema = 1", "schema = 7"), ":3: schema: layout 7 is newer"),
        (lambda text: text + "\n[[trail]]\nnumber = 2\n", "did you mean 'trial'?"),
    ],
    ids=["empty", "half", "word", "newer", "heading"],
)
def test_a_damaged_file_is_never_overwritten(
    kept: LogbookStore, damage: Callable[[str], str], message: str
) -> None:
    """A file that cannot be read, or is of a newer layout, is told with its place and kept byte for byte."""
    kept.path.write_text(damage(kept.path.read_text("utf-8")), "utf-8")
    before = kept.path.read_bytes()

    for use in (kept.read, lambda: kept.change(one_more())):
        with pytest.raises(FileProblems) as caught:
            use()
        assert str(caught.value).startswith(str(kept.path))
        assert message in str(caught.value)
        assert kept.path.read_bytes() == before


def test_a_binary_file_is_never_overwritten(kept: LogbookStore) -> None:
    """A file with bytes that are no text is told with its line and kept."""
    kept.path.write_bytes(b"schema = 1\n\xff\xfe\n")

    assert refusal(kept, one_more()) == f"{kept.path}:2: is not UTF-8 text (save it as UTF-8)"


# ---------------------------------------------------------------------- what a file could not hold


@pytest.mark.parametrize(
    ("note", "message"),
    [
        ("x" * 601, "not recorded: trial[1].note: expected a text of at most 600 characters"),
        ("half a sign: \ud83d", "not recorded: a text holds a sign that no file can keep"),
    ],
)
def test_what_could_not_be_read_is_not_written(kept: LogbookStore, note: str, message: str) -> None:
    """A trial that the file's own bounds would refuse is refused before it is written."""
    assert refusal(kept, one_more(note)) == message


def test_a_full_logbook_is_told(kept: LogbookStore) -> None:
    """A logbook does not grow into a file that is too large to be read."""

    def grow(logbook: Logbook) -> Logbook:
        settings = choices(**{f"option_{number}": "a" * 60 for number in range(200)})
        for _ in range(70):
            logbook = add(logbook, time=NOON, settings=settings, outcome="stable")
        return logbook

    assert refusal(kept, grow) == (
        "not recorded: the logbook would be refused: larger than 1 MiB, too large for a file of this kind; "
        "move it away to begin a new one"
    )


# ------------------------------------------------------------------------------ several at a time


def test_two_processes_lose_nothing(store: LogbookStore) -> None:
    """Two processes that record at once leave every trial of both, each with a number of its own."""
    command = [sys.executable, str(RECORDER), "record", str(store.path), "20"]
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "text": True}
    with (
        subprocess.Popen([*command, "left"], **pipes) as left,  # type: ignore[call-overload]
        subprocess.Popen([*command, "right"], **pipes) as right,  # type: ignore[call-overload]
    ):
        for process in (left, right):
            assert process.stdout.readline() == "ready\n"
        for process in (left, right):
            process.stdin.write("go\n")
            process.stdin.flush()
    assert (left.returncode, right.returncode) == (0, 0)

    trials = store.read().trials
    assert [trial.number for trial in trials] == list(range(1, 41))
    for label in ("left", "right"):
        mine = [trial.note for trial in trials if trial.note.startswith(label)]
        assert mine == [f"{label} {position}" for position in range(20)]


def test_threads_lose_nothing(store: LogbookStore) -> None:
    """The lock also holds between threads of one process."""
    threads = [
        threading.Thread(target=lambda: [store.change(one_more()) for _ in range(5)]) for _ in range(4)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert [trial.number for trial in store.read().trials] == list(range(1, 21))


def test_waiting_ends(kept: LogbookStore) -> None:
    """While somebody else holds the logbook it can be read; a change is refused after a while, by name."""
    hasty = LogbookStore(kept.path, patience=0.1)
    with locked(kept.path, "other", 0):
        assert hasty.read() == with_trials("first")
        begun = time.monotonic()
        line = refusal(hasty, one_more())

    assert 0.1 <= time.monotonic() - begun < 5
    assert line == (
        f"{kept.path}: cannot be locked: another process has been using it for 0.1 s; {LOST_NOTHING}"
    )
    assert hasty.change(one_more()).next_number == 3


def test_a_change_waits_for_another(kept: LogbookStore) -> None:
    """A change that finds the logbook in use goes on as soon as it is free, with what the other one wrote."""
    inside = threading.Event()

    def slowly(logbook: Logbook) -> Logbook:
        inside.set()
        time.sleep(0.1)
        return one_more("slow")(logbook)

    thread = threading.Thread(target=lambda: kept.change(slowly))
    thread.start()
    inside.wait()
    after = kept.change(one_more("quick"))
    thread.join()

    assert after == with_trials("first", "slow", "quick")


def test_the_lock_of_a_dead_process_blocks_nobody(kept: LogbookStore) -> None:
    """A process that is killed while it holds the lock leaves a lock file that stands in nobody's way."""
    command = [sys.executable, str(RECORDER), "hold", str(kept.path)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as holder:
        assert holder.stdout is not None
        assert holder.stdout.readline() == "held\n"
        assert "cannot be locked" in refusal(LogbookStore(kept.path, patience=0), one_more())
        holder.kill()

    assert lock_beside(kept.path).exists()
    assert LogbookStore(kept.path, patience=1).change(one_more()).next_number == 3


# -------------------------------------------------------------------------- files that cannot be written


def failing(number: int) -> Callable[..., NoReturn]:
    """A system call that ends with the error *number*."""

    def fail(*_: object, **__: object) -> NoReturn:
        raise OSError(number, os.strerror(number))

    return fail


@pytest.mark.parametrize(
    ("call", "number"),
    [
        ("os.fsync", errno.ENOSPC),
        ("os.fsync", errno.EIO),
        ("os.replace", errno.EROFS),
        ("os.replace", errno.EACCES),
    ],
)
def test_what_the_system_refuses_is_one_line(
    kept: LogbookStore, monkeypatch: pytest.MonkeyPatch, call: str, number: int
) -> None:
    """A full disk, a failing one or a protected folder is told in one line; the file stays and is alone."""
    with monkeypatch.context() as patch:
        patch.setattr(call, failing(number))
        line = refusal(kept, one_more())

    assert line == f"{kept.path}: cannot be written: {os.strerror(number)}; {LOST_NOTHING}"
    assert kept.change(one_more()).next_number == 3


def test_a_first_trial_that_is_refused_leaves_no_file(
    store: LogbookStore, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where there was no logbook and it cannot be written, there is none afterwards."""
    monkeypatch.setattr("os.replace", failing(errno.ENOSPC))

    assert "cannot be written: No space left" in refusal(store, one_more())
    assert names_in(store.path.parent) == set()


def test_a_folder_that_takes_no_lock_is_one_line(kept: LogbookStore, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where not even the lock file can be made, that is told in one line and nothing is touched."""
    monkeypatch.setattr("os.open", failing(errno.EROFS))

    line = refusal(kept, one_more())

    assert line == f"{kept.path}: cannot be locked: {os.strerror(errno.EROFS)}; {LOST_NOTHING}"


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="nothing is read-only for root")
def test_a_read_only_folder(store: LogbookStore) -> None:
    """A folder without write permission is told in one line."""
    store.path.parent.chmod(0o500)
    try:
        line = refusal(store, one_more())
    finally:
        store.path.parent.chmod(0o700)

    assert line == f"{store.path}: cannot be locked: Permission denied; {LOST_NOTHING}"


def test_a_protected_file(kept: LogbookStore, monkeypatch: pytest.MonkeyPatch) -> None:
    """A logbook that its owner made read-only stays, although its folder would let it be replaced."""
    monkeypatch.setattr("os.access", lambda path, mode: mode != os.W_OK)

    assert refusal(kept, one_more()) == (
        f"{kept.path}: cannot be written: the file is read-only; {LOST_NOTHING}"
    )


def test_no_folder(tmp_path: Path) -> None:
    """A folder that does not exist is told in one line, and not made."""
    store = LogbookStore(tmp_path / "none" / "bench.logbook.toml")

    with pytest.raises(InputError, match="cannot be locked: No such file or directory"):
        store.change(one_more())
    assert not (tmp_path / "none").exists()


def test_a_file_that_cannot_be_seen_is_not_taken_for_none(store: LogbookStore) -> None:
    """Where the system does not say whether there is a file, none is assumed and nothing written over it."""
    store.path.parent.joinpath("file").touch()
    hidden = LogbookStore(store.path.parent / "file" / "bench.logbook.toml")

    with pytest.raises(FileProblems, match="cannot be read: Not a directory"):
        hidden.read()


@POSIX
def test_a_disk_that_is_really_full(kept: LogbookStore) -> None:
    """When the system cuts the writing short half-way, the old file stays and the half is removed."""
    before = kept.path.read_bytes()

    done = subprocess.run(
        [sys.executable, str(RECORDER), "full", str(kept.path)], capture_output=True, text=True, check=True
    )

    assert done.stdout == f"{kept.path}: cannot be written: File too large; {LOST_NOTHING}\n"
    assert kept.path.read_bytes() == before
    assert names_in(kept.path.parent) == {kept.path.name}


# ---------------------------------------------------------------------------- how it is written


@POSIX
def test_the_disk_has_all_before_the_name_changes(
    kept: LogbookStore, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The new content is on the disk before it takes the file's name, and the folder after."""
    steps: list[str] = []
    sync, replace = os.fsync, os.replace

    def fsync(descriptor: int) -> None:
        is_folder = stat.S_ISDIR(os.fstat(descriptor).st_mode)
        steps.append("folder" if is_folder else f"{os.fstat(descriptor).st_size} bytes")
        sync(descriptor)

    def rename(old: Path, new: Path) -> None:
        steps.append(f"{Path(old).name} -> {Path(new).name}")
        replace(old, new)

    monkeypatch.setattr("os.fsync", fsync)
    monkeypatch.setattr("os.replace", rename)

    kept.change(one_more())

    size = kept.path.stat().st_size
    assert steps == [f"{size} bytes", "bench.logbook.toml.new -> bench.logbook.toml", "folder"]


@POSIX
@pytest.mark.parametrize("mode", [0o600, 0o640, 0o664])
def test_permissions_are_kept(kept: LogbookStore, mode: int) -> None:
    """The file has the permissions that its owner gave it."""
    kept.path.chmod(mode)

    kept.change(one_more())

    assert stat.S_IMODE(kept.path.stat().st_mode) == mode


@POSIX
def test_a_new_file_has_usual_permissions(store: LogbookStore) -> None:
    """A new logbook is as open as any file that the user makes."""
    plain = store.path.with_name("plain")
    plain.touch()

    store.change(one_more())

    assert store.path.stat().st_mode == plain.stat().st_mode


@POSIX
def test_a_link_is_followed(kept: LogbookStore, tmp_path: Path) -> None:
    """A logbook that is a link stays one; what it points to is changed, under the lock of that file."""
    (tmp_path / "elsewhere").mkdir()
    link = tmp_path / "elsewhere" / "bench.logbook.toml"
    link.symlink_to(kept.path)

    LogbookStore(link).change(one_more("linked"))

    assert link.is_symlink()
    assert kept.read() == with_trials("first", "linked")
    assert [path.name for path in link.parent.iterdir()] == [link.name]


def test_what_a_killed_process_left_is_cleared(kept: LogbookStore) -> None:
    """Half a file of a process that died is neither used nor kept."""
    kept.path.with_name("bench.logbook.toml.new").write_text("schema = 1\nmach", "utf-8")

    kept.change(one_more("second"))

    assert kept.path.read_text("utf-8") == dump_logbook(with_trials("first", "second"))
    assert names_in(kept.path.parent) == {"bench.logbook.toml"}
