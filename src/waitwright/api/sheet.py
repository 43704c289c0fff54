"""``sheet``: everything that belongs on a machine's sheet, gathered from the other answers."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from waitwright.api.check import check, setting_views
from waitwright.api.controls import controls
from waitwright.api.judging import overall_odds
from waitwright.api.logbook import logbook
from waitwright.api.next_trial import next_trial
from waitwright.api.opening import Question, find_workload
from waitwright.api.rank import Wish, rank
from waitwright.api.results import change_view
from waitwright.api.scoring import own_calibration
from waitwright.api.shares import shares_of
from waitwright.api.suspect import suspect
from waitwright.api.trial_notes import trial_notes
from waitwright.api.trial_room import TrialRoom, enter
from waitwright.errors import UsageError
from waitwright.explain.figures import several, signed_percent
from waitwright.explain.reasons import Reasoner
from waitwright.explain.telling import Teller
from waitwright.ids import ChoiceId, OptionId, Settings
from waitwright.machine import Machine
from waitwright.report.picture_views import MarkView
from waitwright.report.sheet_view import SheetView, TaskKind, TaskView
from waitwright.report.trial_views import NextView, ProvenView, TrialView
from waitwright.report.views import CautionView, ChangeView, CheckView
from waitwright.timing.margins import margins
from waitwright.timing.soak import DEFAULT_SOAK_HOURS
from waitwright.trials.planner import Mode
from waitwright.workload.gain import Pricer, gain


def sheet(
    question: Question,
    *,
    now: datetime,
    mode: Mode | None = None,
    hours: float = DEFAULT_SOAK_HOURS,
    workload: str | None = None,
) -> SheetView:
    """Gather the sheet of a machine.

    The settings to enter are those that *question* sets; where it sets none, the next trial, which is noted
    in the logbook as by ``next``; where no trial is worth making, the proven settings.

    Args:
        now: When the sheet is made, with its offset from UTC.
        mode: As for ``next``; None keeps to that of the trial on offer.

    Raises:
        InputError: if machine, rules, wishes or logbook are faulty.
    """
    plain = replace(question, sets=())
    room = enter(question, hours=hours, workload=workload)
    offered = next_trial(
        plain,
        now=now,
        mode=mode or _mode(room),
        hours=hours,
        workload=workload,
        keep=not question.sets,
    )
    task = _task(room, offered, asked=bool(question.sets))
    chosen = {setting.option: setting.choice for setting in task.settings}
    wanted = _typed(chosen)
    before = check(plain, hours=hours)
    after = check(plain.at(chosen), hours=hours)
    doubts = suspect(plain, hours=hours)
    care = _once((*offered.cautions, *before.cautions))
    work = find_workload(room.machine.rulebook, workload)
    return SheetView(
        machine=room.machine.name,
        title=room.machine.title,
        made=f"{now:%Y-%m-%d %H:%M}",
        workload=(work.id, work.title),
        slots=controls(plain).slots,
        task=task,
        next=offered,
        now=before,
        then=after,
        short=_short(room, wanted),
        curve=rank(plain, Wish(top=1, workload=workload, hours=hours, curve=True)).curve,
        marks=_marks(plain, offered.proven, before, after, task),
        shares=shares_of(
            room.machine,
            work,
            own_calibration(room.logbook, room.machine, work),
            dict(room.machine.current),
            wanted,
        ),
        logbook=logbook(plain, hours=hours, workload=workload),
        suspects=doubts,
        cautions=care,
        measuring=tuple(caution for caution in doubts.cautions if caution not in care),
    )


def write_sheet(view: SheetView, path: Path) -> Path:
    """Write the sheet to *path*, in one step: a crash leaves the old file or the new one.

    Raises:
        UsageError: if something other than a sheet is there already, or the file cannot be written.
    """
    from waitwright.report.html.sheet import SIGN, render_sheet

    try:
        if path.exists() and not (path.is_file() and SIGN in path.read_bytes()):
            raise UsageError(f"-o {path}: that is there already, and is no sheet; name another file")
        _replace(Path(os.path.realpath(path)), render_sheet(view).encode("utf-8"))
    except OSError as error:
        raise UsageError(f"-o {path}: cannot be written: {error.strerror or error}") from None
    return path


def _replace(path: Path, content: bytes) -> None:
    """Put *content* in place of the file at *path*, by way of a file beside it that is this process's own."""
    fresh = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        with fresh.open("xb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        fresh.replace(path)
    finally:
        fresh.unlink(missing_ok=True)


def _mode(room: TrialRoom) -> Mode:
    """The mode of the trial on offer, so that a sheet shows the trial that ``next`` has shown."""
    pending = room.logbook.pending
    return "jump" if pending is None else pending.mode


# --------------------------------------------------------------------------- the settings to enter


def _task(room: TrialRoom, offered: NextView, *, asked: bool) -> TaskView:
    if asked:
        reason = "Settings as they were asked for; they need not be the best to try next."
        return _free(room, offered, room.bench.settings, reason, "asked")
    if offered.trial is not None:
        return _trial(offered.trial)
    return _free(room, offered, _typed(offered.proven.settings), offered.advice, "proven")


def _trial(trial: TrialView) -> TaskView:
    return TaskView(
        kind="trial",
        number=trial.id,
        settings=trial.settings,
        changes=trial.changes,
        gain=trial.gain,
        odds=trial.odds,
        hours=trial.hours,
        soak=trial.soak,
        watch=trial.watch,
        recover=trial.recover,
        reason=trial.reason,
    )


def _free(room: TrialRoom, offered: NextView, settings: Settings, reason: str, kind: TaskKind) -> TaskView:
    """Settings that are no trial on offer, against the proven ones."""
    base = _typed(offered.proven.settings)
    changes = _changes(room, base, settings)
    pricer = Pricer(room.machine, room.events)
    notes = trial_notes(room, settings, (OptionId(change.option) for change in changes), room.hours)
    faster = gain(pricer.total(base), pricer.total(settings))
    found = margins(room.machine, room.bench.rules, settings)
    told = f"{several(len(changes), 'change')} from the proven settings, {signed_percent(faster)} over them."
    return TaskView(
        kind=kind,
        number=None,
        settings=setting_views(replace(room.bench, settings=settings)),
        changes=changes,
        gain=round(gain(pricer.total(room.machine.current), pricer.total(settings)), 6),
        odds=overall_odds(room.standing.outlook, found, settings),
        hours=room.hours,
        soak=notes.soak,
        watch=notes.watch,
        recover=notes.recover,
        reason=f"{reason} {told}" if changes else reason,
    )


def _changes(room: TrialRoom, base: Settings, settings: Settings) -> tuple[ChangeView, ...]:
    machine: Machine = replace(room.machine, current=base)
    pricer = Pricer(machine, room.events)
    reasoner = Reasoner(machine, room.bench.rules, pricer, room.standing.outlook)
    return tuple(map(change_view, reasoner.changes(settings)))


# --------------------------------------------------------------------------------- what goes with them


def _short(room: TrialRoom, settings: Settings) -> tuple[str, ...]:
    """Why each rule that *settings* break by data sheet is broken."""
    teller = Teller(room.machine)
    found = margins(room.machine, room.bench.rules, settings)
    return tuple(teller.verdict(margin, settings) for margin in found.short)


def _marks(
    question: Question, proven: ProvenView, before: CheckView, after: CheckView, task: TaskView
) -> tuple[MarkView, ...]:
    """Where the settings of the profile, the proven ones and those to enter stand by timing alone."""
    best = check(question.at(proven.settings), hours=before.hours)
    marks = [MarkView("now", 0.0, before.odds), MarkView("proven", proven.gain, best.odds)]
    if task.kind != "proven":
        marks.append(MarkView("proposed" if task.kind == "trial" else "asked", task.gain, after.odds))
    return tuple(marks)


def _typed(settings: Mapping[str, str]) -> Settings:
    return {OptionId(option): ChoiceId(choice) for option, choice in settings.items()}


def _once(cautions: Iterable[CautionView]) -> tuple[CautionView, ...]:
    return tuple({caution.id: caution for caution in cautions}.values())
