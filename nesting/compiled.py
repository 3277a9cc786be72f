"""Machine code for the inner loops of the search, where the compiler is installed.

The loops are written over flat arrays of numbers. With numba (an extra of the package) they
are compiled and run outside the interpreter's lock. Without it they would run as plain
Python, some sixty times slower; `nesting.improve` searches then.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Protocol, TypeVar, cast

import numpy as np

numba: Any
try:
    import numba
except ImportError:  # the extra is not installed
    numba = None

Function = TypeVar("Function", bound=Callable[..., Any])
IS_COMPILED = numba is not None


class Whole(Protocol):
    """Whole numbers side by side: an array of 64-bit integers."""

    def __len__(self) -> int:
        """How many there are."""

    def __getitem__(self, place: int, /) -> int:
        """Return one of them."""

    def __setitem__(self, place: int, number: int, /) -> None:
        """Change one of them."""


class Real(Protocol):
    """Floating-point numbers side by side."""

    def __getitem__(self, place: int, /) -> float:
        """Return one of them."""

    def __setitem__(self, place: int, number: float, /) -> None:
        """Change one of them."""


def compiled(function: Function) -> Function:
    """Compile a function on its first call; leave it as it is without a compiler."""
    if numba is None:
        return function
    try:
        found = numba.njit(cache=True, nogil=True, error_model="numpy")(function)
    except RuntimeError:  # no folder to keep machine code in: compiled in every process
        found = numba.njit(nogil=True, error_model="numpy")(function)
    return cast(Function, found)


def whole(values: Sequence[int]) -> Whole:
    """Return integers as the loops take them."""
    found: Any = np.array(values, dtype=np.int64)
    return cast(Whole, found)


def real(values: Sequence[float]) -> Real:
    """Return floating-point numbers as the loops take them."""
    found: Any = np.array(values, dtype=np.float64)
    return cast(Real, found)


def blank(count: int) -> Whole:
    """Return `count` noughts."""
    found: Any = np.zeros(count, dtype=np.int64)
    return cast(Whole, found)


def blank_real(count: int) -> Real:
    """Return `count` floating-point noughts."""
    found: Any = np.zeros(count)
    return cast(Real, found)
