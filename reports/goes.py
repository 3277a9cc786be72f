"""Gluing a panel in goes: how many joints the open time allows, and which staves first.

Neighbouring staves are glued to sub-assemblies, then those to one another, so that no go
has more joints than the glue's open time lets one spread. Sub-assemblies are narrow enough
for the planer if as few of them as possible can be.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache

from nesting.plan import PanelPlan, PanelStave
from stock.shop import Shop

MANY = 10_000  # joints, where spreading takes no time

Span = tuple[int, int]  # from this stave up to, not including, that one; 0 the first


@dataclass(frozen=True, kw_only=True, slots=True)
class Go:
    """What is glued and clamped in one go.

    Attributes
    ----------
    staves
        Number of the first and the last stave.
    panel
        What comes out, each sub-assembly of an earlier go as one stave.
    after
        Names of the goes whose work it joins.
    """

    name: str
    staves: Span
    panel: PanelPlan
    after: tuple[str, ...] = ()

    @property
    def joints(self) -> int:
        """How many joints are glued."""
        return len(self.panel.staves) - 1


def most_joints(shop: Shop) -> int:
    """Return how many joints can be spread while the glue stays open."""
    if not shop.spread_time:
        return MANY
    return int(shop.open_time * 60 // shop.spread_time)


def goes_for(panel: PanelPlan, shop: Shop, name: str) -> tuple[Go, ...]:
    """Return the goes of a panel in order; the last one is called `name`.

    One go if the open time allows, and also if it does not allow a single joint: no way
    of gluing helps then, but another glue.
    """
    most = most_joints(shop)
    widths = [stave.net_width for stave in panel.staves]
    if most < 1 or len(widths) <= most + 1:
        return (Go(name=name, staves=(1, len(widths)), panel=panel),)
    return _goes(panel, name, stages(widths, most, shop.planer_width))


def parts_for_planer(panel: PanelPlan, planer: int) -> tuple[Span, ...]:
    """Return the fewest runs of staves that pass a planer, numbers of first and last.

    Empty if a run would be a single stave and still too wide.
    """
    widths = [stave.net_width for stave in panel.staves]
    if max(widths) > planer:
        return ()
    count = next(n for n in range(1, len(widths) + 1) if _widest(widths, n) <= planer)
    spans = even_split(tuple(widths), count, len(widths))
    return tuple((start + 1, end) for start, end in spans)


def stages(widths: Sequence[int], most: int, planer: int) -> tuple[tuple[Span, ...], ...]:
    """Return for each stage the runs that are glued, counted in what the last one gave.

    No run has more than `most` joints, at least 1. The first stage takes the fewest runs,
    or the fewest that all pass the planer if the next stage can still join those at once.
    """
    found: list[tuple[Span, ...]] = []
    items = list(widths)
    while len(items) > most + 1:
        fewest = -(-len(items) // (most + 1))
        counts = range(fewest, max(fewest, min(most + 1, len(items) - 1)) + 1)
        fits = (n for n in counts if _widest(items, n, most + 1) <= planer)
        spans = even_split(tuple(items), next(fits, fewest), most + 1)
        found.append(spans)
        items = [sum(items[start:end]) for start, end in spans]
    return (*found, ((0, len(items)),))


def even_split(widths: tuple[int, ...], count: int, longest: int) -> tuple[Span, ...]:
    """Part widths into `count` runs of at most `longest`, the widest run narrow.

    Every run has one width at least; the shape must allow it.
    """

    @cache
    def best(start: int, runs: int) -> tuple[int, int, tuple[Span, ...]]:
        if runs == 0:
            return (0, 0, ()) if start == len(widths) else (sum(widths) + 1, 0, ())
        ends = range(start + 1, min(start + longest, len(widths) - runs + 1) + 1)
        none: tuple[Span, ...] = ()
        found = [(sum(widths) + 1, 0, none)] if not ends else []
        for end in ends:
            wide = sum(widths[start:end])
            widest, squares, spans = best(end, runs - 1)
            key = (max(wide, widest), squares + wide * wide)
            found.append((*key, ((start, end), *spans)))
        return min(found)

    return best(0, count)[2]


def _widest(widths: Sequence[int], count: int, longest: int | None = None) -> int:
    """Return how wide the widest of `count` runs is at least."""
    spans = even_split(tuple(widths), count, longest or len(widths))
    return max(sum(widths[start:end]) for start, end in spans)


def _goes(
    panel: PanelPlan, name: str, found: tuple[tuple[Span, ...], ...]
) -> tuple[Go, ...]:
    """Return the goes of all stages; a run of one needs no gluing."""
    goes: list[Go] = []
    items = [
        (stave, (at, at), "") for at, stave in enumerate(panel.staves, 1)
    ]  # what there is to join: as a stave, which staves it holds, the go that made it
    for spans in found:
        after = []
        for start, end in spans:
            run = items[start:end]
            if len(run) == 1:
                after += run
                continue
            staves = (run[0][1][0], run[-1][1][1])
            is_last = staves == (1, len(panel.staves))
            part = _joined(panel, [one for one, _, _ in run])
            title = name if is_last else f"{name}, {stave_words(staves)}"
            waits = tuple(made for _, _, made in run if made)
            goes.append(Go(name=title, staves=staves, panel=part, after=waits))
            after.append((_as_stave(part, title), staves, title))
        items = after
    return tuple(goes)


def stave_words(staves: Span) -> str:
    """Return numbers of staves as words."""
    first, last = staves
    return f"staves {first} to {last}" if last > first else f"stave {first}"


def _joined(panel: PanelPlan, staves: Sequence[PanelStave]) -> PanelPlan:
    """Return what neighbouring staves make."""
    wide = sum(stave.net_width for stave in staves)
    return replace(panel, staves=tuple(staves), net_width=wide, need=wide)


def _as_stave(part: PanelPlan, name: str) -> PanelStave:
    """Return a sub-assembly as one stave of what it is glued into."""
    wide = part.net_width
    return PanelStave(piece=name, board="", width=wide, net_width=wide)
