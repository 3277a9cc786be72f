"""Runs the search where the maker can watch it and stop it."""

from __future__ import annotations

import shutil
import signal
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor, wait
from contextlib import contextmanager
from dataclasses import replace
from queue import SimpleQueue
from types import FrameType
from typing import TextIO

from nesting.alternatives import compare
from nesting.plan import Plan
from nesting.project import Project
from nesting.solve import OnProgress, Progress, SolveParams, solve
from nesting.spares import spares_for
from reports.advice import Advice
from reports.plaintext import money, percent

QUIET = 10.0  # seconds between two lines of one phase where no terminal redraws them
NAP = 0.1  # seconds between two looks at the search

_STOPPING = "stopping: the best plan so far is kept; Ctrl-C again to give up\n"


class ProgressLine:
    """Shows progress: one redrawn line on a terminal, a line now and then in a pipe."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream
        self._redraws = stream.isatty()
        self._last: Progress | None = None
        self._shown = ""

    def show(self, progress: Progress) -> None:
        """Show where the search stands, if there is any news."""
        if self._redraws:
            text = progress_text(progress)[: shutil.get_terminal_size().columns - 1]
            self._write("\r" + text.ljust(len(self._shown)))
            self._shown = text
        elif self._last is None or self._is_news(progress, self._last):
            self._write(progress_text(progress) + "\n")
        else:
            return
        self._last = progress

    def tick(self, seconds: float) -> None:
        """Show that time goes by, where the search itself has nothing to say."""
        if self._last is not None and seconds > self._last.seconds:
            self.show(replace(self._last, seconds=seconds))

    def say(self, text: str) -> None:
        """Write a line of its own."""
        self.close()
        self._write(text)

    def close(self) -> None:
        """Leave the line, so that what follows starts on one of its own."""
        if self._shown:
            self._write("\n")
            self._shown = ""

    def _write(self, text: str) -> None:
        self._stream.write(text)
        self._stream.flush()

    @staticmethod
    def _is_news(progress: Progress, last: Progress) -> bool:
        """Whether a pipe gets a line for it."""
        return progress.phase != last.phase or progress.seconds - last.seconds >= QUIET


def progress_text(progress: Progress) -> str:
    """Return one line: elapsed time, best cost, proven bound, gap, what is being done."""
    words = [f"{progress.seconds:5.1f} s"]
    words.append("no plan yet" if progress.cost is None else f"cost {money(progress.cost)}")
    if progress.bound is not None:
        words.append(f"at least {money(progress.bound)}")
    if progress.gap is not None:
        words.append(f"gap {percent(progress.gap)}")
    return "  ".join([*words, progress.phase])


def search(
    project: Project, params: SolveParams, stream: TextIO, *, compares: bool = True
) -> tuple[Plan, Advice]:
    """Return the best plan found and what to know beside it, with progress on `stream`.

    Other choices of yards are left out unless it `compares` them.

    The first Ctrl-C ends the search and keeps the best plan so far; what is not found out
    beside it by then is left out.

    Raises
    ------
    KeyboardInterrupt
        At the second Ctrl-C; the search may still be running then.
    InputError, VerificationError
        As `solve` raises them.
    """
    line = ProgressLine(stream)
    news: SimpleQueue[Progress] = SimpleQueue()
    stop = threading.Event()
    pool = ThreadPoolExecutor(max_workers=1, thread_name_prefix="search")
    try:
        with _handling(lambda _signal, _frame: _heard(stop)):
            future = pool.submit(
                _advised, project, params, news.put, stop.is_set, compares=compares
            )
            return _watch(future, news, stop, line)
    finally:
        line.close()
        pool.shutdown(wait=False, cancel_futures=True)


def _advised(
    project: Project,
    params: SolveParams,
    report: OnProgress,
    stop: Callable[[], bool],
    *,
    compares: bool,
) -> tuple[Plan, Advice]:
    """Plan, then weigh other choices of yards, then look for a spare board."""
    plan, yards = solve(project, params, report, stop), None
    if compares:
        plan, yards = compare(project, plan, params, report, stop)
    return plan, Advice(yards=yards, spares=spares_for(project, plan, stop))


def _watch(
    future: Future[tuple[Plan, Advice]],
    news: SimpleQueue[Progress],
    stop: threading.Event,
    line: ProgressLine,
) -> tuple[Plan, Advice]:
    """Return the result; naps are short, so that Ctrl-C is heard on every system.

    Only this thread writes, and never from inside the signal's handler, which could
    interrupt a line that is being written.
    """
    begun = time.monotonic()
    told = False
    while not future.done():
        wait([future], timeout=NAP)
        _tell(news, line)
        line.tick(time.monotonic() - begun)
        if stop.is_set() and not told:
            line.say(_STOPPING)
            told = True
    _tell(news, line)
    return future.result()


def _tell(news: SimpleQueue[Progress], line: ProgressLine) -> None:
    """Show what the search reported since the last look."""
    while not news.empty():
        line.show(news.get())


def _heard(stop: threading.Event) -> None:
    """Turn the first Ctrl-C into a wish to stop, and the second into an end."""
    if stop.is_set():
        raise KeyboardInterrupt
    stop.set()


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
