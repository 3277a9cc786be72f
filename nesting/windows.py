"""Stretches of a bin in which sections may lie, whatever their exact place.

A clear bin is one window. Marks, zones and tapers cut a bin into several: clear stretches
between marks, stretches over a mark whose sections are ripped beside it, or that only
hold pieces which the mark does not harm, and stretches up to which a taper is wide enough.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from nesting.problem import Bin, Problem

TAPER_STEPS = 4
MOST_WINDOWS = 8


@dataclass(frozen=True, slots=True)
class Span:
    """A strip of a window from one end to the other: y range, and what may lie in it."""

    low: int
    high: int
    allowed: frozenset[int]

    @property
    def height(self) -> int:
        """Width that is there to be ripped."""
        return self.high - self.low


@dataclass(frozen=True, slots=True)
class Window:
    """Where sections of a bin may lie: any x range within `start`..`end`.

    Attributes
    ----------
    spans
        What each of its sections is ripped from, lower edge first.
    """

    bin: int
    start: int
    end: int
    spans: tuple[Span, ...]

    @property
    def length(self) -> int:
        """Length of the longest section it holds."""
        return self.end - self.start


def windows_for(problem: Problem, one: Bin) -> tuple[Window, ...]:
    """Return the windows of a bin in the order in which their sections lie along it."""
    if one.is_plain:
        span = Span(0, one.width, one.wanted)
        return (Window(one.index, 0, one.length, (span,)),)
    shortest = min(
        (size[0] for i in one.wanted for size in problem.items[i].sizes), default=one.length
    )
    widest: dict[tuple[Span, ...], list[tuple[int, int]]] = {}
    starts, ends = _edges(one)
    for start in starts:
        for end in ends:
            if end - start >= shortest:
                for spans in _spans(problem, one, start, end):
                    known = widest.setdefault(spans, [])
                    if not any(s <= start and end <= e for s, e in known):
                        known[:] = [
                            (s, e) for s, e in known if not (start <= s and e <= end)
                        ]
                        known.append((start, end))
    found = [
        Window(one.index, start, end, spans)
        for spans, places in widest.items()
        for start, end in places
    ]
    found.sort(key=lambda w: -w.length * sum(span.height for span in w.spans))
    return tuple(sorted(found[:MOST_WINDOWS], key=lambda w: (w.end, w.start)))


def _edges(one: Bin) -> tuple[list[int], list[int]]:
    """Return where windows may start and end."""
    zones = [zone for some in one.limited.values() for zone in some]
    starts = {0, *(mark.end for mark in one.marks), *(zone.start for zone in zones)}
    ends = {
        one.length,
        *(mark.start for mark in one.marks),
        *(zone.end for zone in zones),
    }
    places = [one.length * n // TAPER_STEPS for n in range(1, TAPER_STEPS)]
    if one.width > one.width2:
        ends.update(places)
    elif one.width < one.width2:
        starts.update(places)
    return (
        sorted(x for x in starts if 0 <= x < one.length),
        sorted(x for x in ends if 0 < x <= one.length),
    )


def _spans(problem: Problem, one: Bin, start: int, end: int) -> Iterator[tuple[Span, ...]]:
    """Yield the ways to rip the sections of a window: across the marks, or beside them."""
    length, width = end - start, min(one.width_at(start), one.width_at(end))
    if width <= 0:
        return
    whole = one.allowed(problem.items, start, 0, length, width)
    if whole:
        yield (Span(0, width, whole),)
    zones = [zone for some in one.limited.values() for zone in some]
    edges = {0, width}
    for mark in (*one.marks, *zones):
        if mark.touches(start, 0, length, width):
            edges.update(e for e in (mark.low, mark.high) if 0 < e < width)
    if len(edges) == 2:
        return
    spans: list[Span] = []
    for low, high in pairwise(sorted(edges)):
        touching = bool(spans) and low < spans[-1].high + problem.kerf
        bottom = spans[-1].high + problem.kerf if touching else low
        if high <= bottom:
            continue
        allowed = one.allowed(problem.items, start, bottom, length, high - bottom)
        if allowed:
            spans.append(Span(bottom, high, allowed))
    if len(spans) > 1 or any(span.allowed != whole for span in spans):
        yield tuple(spans)
