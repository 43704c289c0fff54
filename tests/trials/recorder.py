"""Processes that record trials, to be run side by side, refused and killed.

    recorder.py record LOGBOOK COUNT LABEL   waits for a line, then records COUNT trials
    recorder.py hold LOGBOOK                 locks the logbook until it is killed
    recorder.py full LOGBOOK                 records where the disk takes no more bytes than the file has
    recorder.py kill LOGBOOK ROUNDS          starts recording processes and kills each at some instant
    recorder.py kill-at-lines LOGBOOK        kills one before every line of the writing, in turn

The last two answer with one JSON list: what was found in the logbook after each death.
"""

from __future__ import annotations

import json
import os
import random
import signal
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from types import FrameType
from typing import Any

from waitwright.errors import InputError
from waitwright.ids import ChoiceId, OptionId
from waitwright.trials import safekeeping
from waitwright.trials.logbook import Logbook, add
from waitwright.trials.store import LogbookStore

NOON = datetime(2026, 2, 3, 12, tzinfo=UTC)


def record(store: LogbookStore, note: str) -> int:
    """Record one trial and return its number."""

    def with_one_more(logbook: Logbook) -> Logbook:
        settings = {OptionId("clock"): ChoiceId("33")}
        return add(logbook, time=NOON, settings=settings, outcome="stable", note=note)

    return store.change(with_one_more).trials[-1].number


def say(text: object) -> None:
    """Tell the process that waits for it, at once."""
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


def record_many(store: LogbookStore, count: int, label: str) -> None:
    """Begin at a line from the other process."""
    say("ready")
    sys.stdin.readline()
    for position in range(count):
        record(store, f"{label} {position}")


def hold(store: LogbookStore) -> None:
    """Keep everybody else out."""

    def wait_to_be_killed(logbook: Logbook) -> Logbook:
        say("held")
        time.sleep(60)
        return logbook

    store.change(wait_to_be_killed)


def record_on_full_disk(store: LogbookStore) -> None:
    """Let the system itself cut the writing short."""
    import resource

    size = store.path.stat().st_size
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, resource.RLIM_INFINITY))
    try:
        record(store, "one too many")
    except InputError as error:
        say(error)


def numbers_in(store: LogbookStore) -> list[int]:
    """Numbers of all trials in the logbook."""
    return [trial.number for trial in store.read().trials]


def forked(work: Callable[[], object]) -> int:
    """Id of a new process that does *work* and nothing else."""
    process = os.fork()
    if process:
        return process
    try:
        work()
    finally:
        os._exit(0)


def kill_at_random(store: LogbookStore, rounds: int) -> list[dict[str, Any]]:
    """In each round: kill a process that records as fast as it can, shortly after its first success."""
    chance = random.Random(486)
    found = []
    for _ in range(rounds):
        reader, writer = os.pipe()

        def record_for_ever(writer: int = writer) -> None:
            while True:
                os.write(writer, f"{record(store, 'tried')}\n".encode())

        process = forked(record_for_ever)
        os.close(writer)
        told = os.read(reader, 100)
        time.sleep(chance.uniform(0, 0.02))
        os.kill(process, signal.SIGKILL)
        os.waitpid(process, 0)
        while more := os.read(reader, 1 << 16):
            told += more
        os.close(reader)
        found.append({"told": int(told.split()[-1]), "numbers": numbers_in(store)})
    return found


def kill_at_lines(store: LogbookStore) -> list[dict[str, Any]]:
    """In round N: kill a recording process just before the Nth line that it runs of the writing."""
    found: list[dict[str, Any]] = []
    while True:
        before = numbers_in(store)
        process = forked(lambda: _record_until_line(store, len(found) + 1))
        _, status = os.waitpid(process, 0)
        if not os.WIFSIGNALED(status):
            return found
        after = numbers_in(store)
        record(store, "the next one is neither kept waiting nor misled")
        found.append({"before": before, "after": after, "later": numbers_in(store)})


def _record_until_line(store: LogbookStore, line: int) -> None:
    seen = 0

    def step(frame: FrameType, event: str, _: object) -> Callable[..., Any] | None:
        nonlocal seen
        if frame.f_code.co_filename != safekeeping.__file__:
            return None
        if event == "line":
            seen += 1
            if seen == line:
                os.kill(os.getpid(), signal.SIGKILL)
        return step

    sys.settrace(step)
    record(store, "killed")


if __name__ == "__main__":
    what, path, *more = sys.argv[1:]
    store = LogbookStore(Path(path))
    if what == "record":
        record_many(store, int(more[0]), more[1])
    elif what == "hold":
        hold(store)
    elif what == "full":
        record_on_full_disk(store)
    elif what == "kill":
        say(json.dumps(kill_at_random(store, int(more[0]))))
    else:
        say(json.dumps(kill_at_lines(store)))
