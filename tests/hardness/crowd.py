"""Processes that record through the command line, many at once, or killed at any moment.

    crowd.py many COUNT      COUNT processes record one trial each, all at the same time
    crowd.py kill ROUNDS     in each round a process records trial after trial, and is killed

Works on ``attic.toml`` in the current folder, and answers with one JSON object.  The processes are forked
from one that has everything loaded, so that they spend their time on recording.
"""

from __future__ import annotations

import json
import os
import random
import signal
import sys
import time
from collections.abc import Callable
from contextlib import redirect_stdout
from io import StringIO
from pathlib import Path
from typing import Any

from waitwright.cli.main import run
from waitwright.trials.store import LogbookStore

STORE = LogbookStore.beside(Path("attic.toml"))
LONG = 12
"""Trials in a logbook that is put away, so that the next ones are recorded as fast as the first."""


def record(note: str) -> int:
    """Record one trial by the command, and return its exit code."""
    words = ["record", "attic.toml", "stable", "--set", "memory-rhythm=fast", "--note", note, "--json"]
    with redirect_stdout(StringIO()):
        return run(words)


def notes() -> list[str]:
    """What stands in the logbook, in its order."""
    return [trial.note for trial in STORE.read().trials]


def forked(work: Callable[[], int]) -> int:
    """Id of a new process that does *work* and nothing else."""
    process = os.fork()
    if process:
        return process
    code = 70
    try:
        code = work()
    finally:
        os._exit(code)


def many(count: int) -> dict[str, Any]:
    """Let all go at once; their exit codes, and the notes in the logbook."""
    reading, writing = os.pipe()
    processes = []
    for position in range(count):

        def wait_and_record(note: str = str(position)) -> int:
            os.close(writing)
            os.read(reading, 1)  # ends once the other end is closed everywhere
            return record(note)

        processes.append(forked(wait_and_record))
    os.close(writing)
    codes = [os.waitstatus_to_exitcode(os.waitpid(process, 0)[1]) for process in processes]
    return {"codes": codes, "notes": notes(), "left": sorted(path.name for path in Path().iterdir())}


def kill(rounds: int) -> list[dict[str, Any]]:
    """In each round: what had been recorded when the process was killed, and what the logbook holds then."""
    chance = random.Random(386)
    found, count = [], 0
    for _ in range(rounds):
        reading, writing = os.pipe()

        def record_for_ever(writing: int = writing, begin: int = count) -> int:
            number = begin
            while record(str(number)) == 0:
                os.write(writing, b".")
                number += 1
            return 1

        started = time.monotonic()
        process = forked(record_for_ever)
        os.close(writing)
        told = os.read(reading, 1)
        pace = time.monotonic() - started
        time.sleep(chance.uniform(0, 1.2 * pace))
        os.kill(process, signal.SIGKILL)
        _, status = os.waitpid(process, 0)
        while more := os.read(reading, 1 << 10):
            told += more
        os.close(reading)
        kept = notes()
        found.append(
            {
                "killed": os.WIFSIGNALED(status),
                "told": count + len(told),
                "kept": len(kept),
                "whole": kept == [str(number) for number in range(len(kept))],
            }
        )
        count = len(kept)
        if count >= LONG:
            STORE.path.unlink()
            count = 0
    return found


if __name__ == "__main__":
    what, number = sys.argv[1:]
    record_alone = record("0")  # loads everything, once
    STORE.path.unlink()
    answer = many(int(number)) if what == "many" else kill(int(number))
    sys.stdout.write(json.dumps(answer))
    sys.exit(record_alone)
