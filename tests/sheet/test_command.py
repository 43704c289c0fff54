"""``sheet`` as a command: where it writes, what it leaves alone, and what it counts as the next trial."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest
from tests import gallery

from waitwright.api.check import check
from waitwright.api.next_trial import next_trial
from waitwright.api.opening import Question
from waitwright.api.record import Report, record
from waitwright.api.shares import shares
from waitwright.api.sheet import sheet, write_sheet
from waitwright.cli.main import BAD_INPUT, OK, run
from waitwright.errors import UsageError
from waitwright.workload.gain import gain

MACHINE = "tollgate-386dx33"
NOW = datetime(2026, 3, 8, 21, 40, tzinfo=UTC)


@pytest.fixture(scope="module")
def own(tmp_path_factory: pytest.TempPathFactory) -> str:
    """A machine of one's own with a failed trial in its logbook and the next on offer."""
    path = tmp_path_factory.mktemp("own") / "attic.toml"
    assert run(["new", "--from", MACHINE, "-o", str(path)]) == OK
    question = Question(str(path))
    next_trial(question, now=NOW)
    record(question, Report("failed", symptoms=("memory-error",), hours=0.5, note="<b>warm</b>"), now=NOW)
    return str(path)


def test_sheet_is_written_beside_the_user(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without -o the file is MACHINE.html in the current folder, and --json tells its path and the view."""
    monkeypatch.chdir(tmp_path)

    assert run(["sheet", MACHINE, "--json"]) == OK
    told = json.loads(capsys.readouterr().out)
    assert told["path"] == f"{MACHINE}.html"
    assert told["task"]["settings"].keys() == told["now"]["settings"].keys()
    assert [path.name for path in tmp_path.iterdir()] == [f"{MACHINE}.html"]
    assert (tmp_path / f"{MACHINE}.html").read_text("utf-8").startswith("<!doctype html>")


@pytest.fixture
def ready(monkeypatch: pytest.MonkeyPatch) -> None:
    """The command finds the sheet of the attic machine ready."""
    monkeypatch.setattr("waitwright.api.sheet.sheet", lambda *_, **__: gallery.sheet())


@pytest.mark.usefixtures("ready")
def test_open_shows_the_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """--open hands the file to the web browser, by its full address."""
    seen: list[str] = []
    monkeypatch.setattr("webbrowser.open", seen.append)
    path = tmp_path / "my sheet.html"

    assert run(["sheet", MACHINE, "-o", str(path), "--open"]) == OK
    assert seen == [path.as_uri()]


def test_a_sheet_may_be_replaced(tmp_path: Path) -> None:
    """An older sheet gives way to a new one, and nothing else is left behind."""
    path = tmp_path / "s.html"
    write_sheet(gallery.sheet(), path)
    write_sheet(gallery.sheet(title="Another machine"), path)

    assert "Another machine" in path.read_text("utf-8")
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize("content", ["schema = 1", "<!doctype html><p>mine</p>", ""])
def test_nothing_but_a_sheet_is_overwritten(tmp_path: Path, content: str) -> None:
    """A file that is no sheet stays as it is."""
    path = tmp_path / "attic.toml"
    path.write_text(content, "utf-8")

    with pytest.raises(UsageError, match="is no sheet; name another file"):
        write_sheet(gallery.sheet(), path)
    assert path.read_text("utf-8") == content


def test_a_crash_leaves_the_old_sheet(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the last step fails, the old file is whole and the half-made one is gone."""
    path = tmp_path / "s.html"
    write_sheet(gallery.sheet(), path)
    before = path.read_bytes()

    def refuse(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", refuse)
    with pytest.raises(UsageError, match="No space left"):
        write_sheet(gallery.sheet(title="Another machine"), path)
    assert path.read_bytes() == before
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.usefixtures("ready")
def test_a_missing_folder_is_told_in_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Where the file cannot be written, exit status 2 and one line say so."""
    assert run(["sheet", MACHINE, "-o", str(tmp_path / "no" / "s.html")]) == BAD_INPUT
    assert capsys.readouterr().err.count("\n") == 1


def test_sheet_shows_the_trial_that_next_shows(own: str) -> None:
    """The settings to enter are those of ``next``, and they are on offer afterwards."""
    view = sheet(Question(own), now=NOW, mode="jump")
    offered = next_trial(Question(own), now=NOW)

    assert offered.trial is not None
    assert view.task.kind == "trial"
    assert view.task.settings == offered.trial.settings
    assert view.task.changes == offered.trial.changes
    assert view.logbook.entries[0].note == "<b>warm</b>"


def test_sheet_keeps_to_the_mode_of_the_offer(own: str) -> None:
    """Where ``next --single`` has offered a trial, the sheet shows that one."""
    offered = next_trial(Question(own), now=NOW, mode="single")
    view = sheet(Question(own), now=NOW)

    assert offered.trial is not None
    assert view.task.settings == offered.trial.settings
    assert len(view.task.changes) == 1


def test_asked_settings_leave_the_offer_alone(own: str) -> None:
    """With --set the sheet is about those settings, and the logbook is not touched."""
    logbook = Path(own).with_suffix(".logbook.toml")
    before = logbook.read_bytes()
    view = sheet(Question(own, sets=("ras-to-cas=2",)), now=NOW)

    assert logbook.read_bytes() == before
    assert view.task.kind == "asked"
    assert [change.option for change in view.task.changes] == ["ras-to-cas"]
    assert dict(view.to_dict()["task"]["settings"])["ras-to-cas"] == "2"


def test_figures_of_the_sheet_are_those_of_check() -> None:
    """Margins on the sheet are what ``check`` answers for the settings now, and for those to enter."""
    view = sheet(Question(MACHINE), now=NOW)
    wanted = tuple(f"{setting.option}={setting.choice}" for setting in view.task.settings)

    assert view.now == check(Question(MACHINE))
    assert view.then == check(Question(MACHINE, sets=wanted))
    assert [mark.kind for mark in view.marks] == ["now", "proven", "proposed"]
    assert view.marks[2].odds == view.then.odds


def test_shares_add_up_to_the_gain() -> None:
    """The times of all events add up to the whole, and the whole to the gain that ``rank`` tells."""
    view = shares(Question(MACHINE, sets=("cache-read=2-2-2-2",)))

    assert sum(event.before_us for event in view.events) == pytest.approx(view.before_us, abs=0.01)
    assert sum(event.after_us for event in view.events) == pytest.approx(view.after_us, abs=0.01)
    assert view.gain == pytest.approx(view.before_us / view.after_us - 1, abs=1e-3)
    assert view.gain == pytest.approx(gain(round(view.before_us * 1e6), round(view.after_us * 1e6)), abs=1e-3)
    assert [event.before_us for event in view.events] == sorted(
        (event.before_us for event in view.events), reverse=True
    )
