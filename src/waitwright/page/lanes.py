"""Threads that work while the event loop keeps listening."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future
from itertools import count
from queue import PriorityQueue
from threading import Thread
from typing import Any, TypeVar

T = TypeVar("T")

URGENT, LATER = 0, 1


class Lane:
    """A few threads with one queue: what is urgent first, else in order of arrival.

    The threads end with the process, whatever they are at: nothing that they do must be finished.
    """

    def __init__(self, name: str, threads: int) -> None:
        self._queue: PriorityQueue[tuple[int, int, Callable[[], None]]] = PriorityQueue()
        self._numbers = count()
        for number in range(threads):
            Thread(target=self._run, name=f"{name}-{number}", daemon=True).start()

    def submit(self, work: Callable[[], T], urgency: int = URGENT) -> Future[T]:
        """Do *work* as soon as its turn comes."""
        future: Future[T] = Future()

        def done() -> None:
            _fulfil(future, work)

        self._queue.put((urgency, next(self._numbers), done))
        return future

    def _run(self) -> None:
        while True:
            _, _, work = self._queue.get()
            work()
            del work  # or the last answer would live as long as the lane waits


def _fulfil(future: Future[Any], work: Callable[[], Any]) -> None:
    if not future.set_running_or_notify_cancel():
        return
    try:
        result = work()
    except BaseException as error:  # noqa: BLE001 -- it is raised again where the answer is awaited
        future.set_exception(error)
    else:
        future.set_result(result)
