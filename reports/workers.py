"""Shares random piles among processes, or on a cluster, and shows how far they are."""

from __future__ import annotations

import importlib
import multiprocessing
import sys
from collections.abc import Iterator, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager
from typing import Any

import click

from nesting.compiled import IS_COMPILED
from nesting.estimating import Answer, estimate
from nesting.project import Project
from stock.errors import Fault, InputError

# shown until the first piles are done, for which new machine code may have to be made
_FIRST = "piles (compiling, the first time)" if IS_COMPILED else "piles"


def drawn_answers(
    project: Project,
    *,
    piles: int,
    seed: int,
    picks: bool,
    workers: int,
    cluster: str | None,
) -> Sequence[Answer]:
    """Return the estimates of a project, with a progress bar on standard error.

    Raises
    ------
    InputError
        If a kind of wood is in no price list, or the cluster can't be reached.
    """
    with (
        _executor(workers, cluster) as executor,
        click.progressbar(length=100, label=_FIRST, file=sys.stderr) as bar,
    ):

        def show(done: int, of: int) -> None:
            bar.label = "piles"
            bar.update(100 * done // of - bar.pos)

        return estimate(
            project, executor, piles=piles, seed=seed, picks=picks, on_progress=show
        )


@contextmanager
def _executor(workers: int, cluster: str | None) -> Iterator[Executor]:
    """Give an executor: processes of this machine, or those of a Dask scheduler."""
    if cluster is not None:
        with _cluster(cluster) as executor:
            yield executor
        return
    # started afresh, for a process forked from one with threads may hang
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(workers, mp_context=context) as executor:
        yield executor


@contextmanager
def _cluster(address: str) -> Iterator[Executor]:
    """Give the executor of a Dask scheduler.

    Raises
    ------
    InputError
        If the extra is not installed, or nothing answers at the address.
    """
    try:
        distributed: Any = importlib.import_module("distributed")
    except ImportError:
        rule = 'needs the extra: pip install "stavewright[cluster]"'
        raise InputError([Fault("--cluster", None, None, rule)]) from None
    try:
        client = distributed.Client(address, timeout="10s")
    except (OSError, ValueError) as problem:
        rule = f"no Dask scheduler answers at {address}: {problem}"
        raise InputError([Fault("--cluster", None, None, rule)]) from None
    with client:
        yield client.get_executor()
