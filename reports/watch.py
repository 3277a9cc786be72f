"""Runs the search where the maker can watch it and stop it."""

from __future__ import annotations

import shutil
import signal
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from concurrent.futures import TimeoutError as StillRunning
from contextlib import contextmanager
from decimal import Decimal
from types import FrameType
from typing import TextIO

from nesting.plan import Plan
from nesting.project import Project
from nesting.solve import Progress, SolveParams, solve
from reports.plaintext import money, percent

QUIET = 5.0  # seconds between two lines of the same phase where no terminal redraws them


class ProgressLine:
    """Shows progress: one redrawn line on a terminal, a line now and then in a pipe."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream
        self._redraws = stream.isatty()
        self._last: Progress | None = None
        self._shown = ""

    def __call__(self, progress: Progress) -> None:
        """Show the news, if there is any."""
        if self._redraws:
            width = shutil.get_terminal_size().columns - 1
            text = progress_text(progress)[:width]
            self._stream.write("\r" + text.ljust(len(self._shown)))
            self._stream.flush()
            self._shown = text
        elif self._is_news(progress):
            self._stream.write(progress_text(progress) + "\n")
            self._stream.flush()
            self._last = progress

    def close(self) -> None:
        """Leave the line, so that what follows starts on one of its own."""
        if self._shown:
            self._stream.write("\n")
            self._stream.flush()
            self._shown = ""

    def _is_news(self, progress: Progress) -> bool:
        """Whether a pipe gets a line for it."""
        last = self._last
        if last is None or progress.phase != last.phase:
            return True
        return progress.seconds - last.seconds >= QUIET


def progress_text(progress: Progress) -> str:
    """Return one line: elapsed time, best cost, proven bound, gap, what is being done."""
    words = [
        f"{progress.seconds:5.1f} s",
        f"cost {_amount(progress.cost)}",
        f"at least {_amount(progress.bound)}",
        "gap -" if progress.gap is None else f"gap {percent(progress.gap)}",
        progress.phase,
    ]
    return "  ".join(words)


def search(project: Project, params: SolveParams, stream: TextIO) -> Plan:
    """Return the best plan found, showing progress on `stream`.

    The first Ctrl-C ends the search and keeps the best plan so far.

    Raises
    ------
    KeyboardInterrupt
        At the second Ctrl-C; the search may still be running then.
    InputError, VerificationError
        As `solve` raises them.
    """
    line = ProgressLine(stream)
    stop = threading.Event()
    pool = ThreadPoolExecutor(max_workers=1, thread_name_prefix="search")
    try:
        with _interrupts(stop, line, stream):
            return _wait(pool.submit(solve, project, params, line, stop.is_set))
    finally:
        line.close()
        pool.shutdown(wait=False, cancel_futures=True)


def _wait(future: Future[Plan]) -> Plan:
    """Return the result; waits in short naps, so that Ctrl-C is heard on every system."""
    while True:
        try:
            return future.result(timeout=0.1)
        except StillRunning:
            if future.done():
                return future.result()


@contextmanager
def _interrupts(
    stop: threading.Event, line: ProgressLine, stream: TextIO
) -> Iterator[None]:
    """Turn the first Ctrl-C into a wish to stop, and the second into an end."""

    def heard(_signal: int, _frame: FrameType | None) -> None:
        if stop.is_set():
            raise KeyboardInterrupt
        stop.set()
        line.close()
        stream.write("stopping: the best plan so far is kept; Ctrl-C again to give up\n")
        stream.flush()

    with _handling(heard):
        yield


@contextmanager
def _handling(heard: Callable[[int, FrameType | None], None]) -> Iterator[None]:
    """Handle Ctrl-C with `heard` for a while; only the main thread can."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, heard)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def _amount(amount: Decimal | None) -> str:
    return "-" if amount is None else money(amount)
