"""Processes that answer jobs: one that dies is replaced, an interrupt ends them all."""

from __future__ import annotations

import contextlib
import json
import os
import subprocess
import sys
import threading
from collections.abc import Iterator, Sequence
from pathlib import Path
from queue import Empty, Queue, SimpleQueue
from typing import Any

Job = tuple[str, str, bool]
Answer = tuple[Job, dict[str, Any] | None]
TRIES = 2
LOOK_S = 0.2
WORKER = (sys.executable, "-P", "-m", "powerbudget.fleet.worker")


class Crew:
    """Worker processes over a list of jobs.

    Parameters
    ----------
    jobs
        Site file, its name, whether it is sized.
    count
        Processes [count].
    """

    def __init__(self, jobs: Sequence[Job], count: int) -> None:
        self._left: SimpleQueue[Job] = SimpleQueue()
        for job in jobs:
            self._left.put(job)
        self._all, self._ended = len(jobs), False
        self._done: Queue[Answer] = Queue()
        self._running: dict[int, subprocess.Popen[bytes]] = {}
        self._threads = [
            threading.Thread(target=self._serve, args=(number,), daemon=True)
            for number in range(count)
        ]
        for thread in self._threads:
            thread.start()

    def answers(self) -> Iterator[Answer]:
        """Yield each job with its row as it is done, None where it ended its process."""
        try:
            for _ in range(self._all):
                yield self._next()
        finally:
            self._ended = True
            for process in list(self._running.values()):
                process.kill()
            for thread in self._threads:
                thread.join(timeout=LOOK_S)

    def _next(self) -> Answer:
        # Looked at now and then: a wait without end would not see an interrupt.
        while True:
            try:
                return self._done.get(timeout=LOOK_S)
            except Empty:
                continue

    def _serve(self, number: int) -> None:
        while not self._ended:
            try:
                job = self._left.get_nowait()
            except Empty:
                break
            answers = (self._ask(number, job) for _ in range(TRIES))
            self._done.put((job, next(filter(None, answers), None)))
        if process := self._running.pop(number, None):
            _end(process)

    def _ask(self, number: int, job: Job) -> dict[str, Any] | None:
        """Return a row, None where the process died over it."""
        if self._ended:
            return None
        process = self._running.get(number)
        if process is None:
            process = self._running[number] = _start()
        assert process.stdin is not None
        assert process.stdout is not None
        try:
            process.stdin.write(json.dumps(job).encode() + b"\n")
            process.stdin.flush()
            line = process.stdout.readline()
        except OSError:
            line = b""
        if not line.endswith(b"\n"):
            _end(self._running.pop(number))
            return None
        row: dict[str, Any] = json.loads(line)
        return row


def _end(process: subprocess.Popen[bytes]) -> None:
    process.kill()
    process.wait()
    for stream in (process.stdin, process.stdout):
        with contextlib.suppress(OSError):
            if stream:
                stream.close()


def _start() -> subprocess.Popen[bytes]:
    root = str(Path(__file__).parents[2])
    path = os.pathsep.join(filter(None, (root, os.environ.get("PYTHONPATH"))))
    # A session of its own: Ctrl-C reaches the caller, who ends it.
    return subprocess.Popen(  # noqa: S603 - this program itself
        WORKER,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        env={**os.environ, "PYTHONPATH": path},
        start_new_session=True,
    )
