"""Random boards of a grade, as they come off a stack at a yard.

Mean surface measure and mean share of defects follow published figures on kiln-dried
Appalachian red oak (Wiedenbeck, Gatchell and Walker 1995, abstract); how sizes spread
about the mean, and what shape and number defects have, is our assumption. Each board
provably makes its grade by the rules of `stock.grades`.
"""

from __future__ import annotations

import math
import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from stock.boards import Board, Mark
from stock.grades import Grade, cuttings_allowed, faces, units_needed
from stock.measures import Unit, inch_in, steps_per_unit
from stock.tally import surface_measure
from stock.yards import Price

UNGRADED = "1C"  # what is drawn where a price list names no grade
TRIES = 40
UNSOUND = 0.89  # of the area of defects (Wiedenbeck, Gatchell and Walker 1995)
BEND = Fraction(1, 4)  # of a crook is lost in width once boards are cut to sections
MOST_MARKS = 7
USUAL, LEAST = 16.0, 0.2  # square inches of one defect, and what is too small to matter
WANE, AT_END = 0.25, 0.2  # shares of defects that are wane, and checks at an end

Box = tuple[float, float, float, float]  # from, to, low, high, in inches


@dataclass(frozen=True, kw_only=True, slots=True)
class Habit:
    """What boards of a grade are usually like; inches and feet.

    Attributes
    ----------
    width, spread
        Mean width before the limits cut in, and its coefficient of variation.
    narrowest, widest
        Limits of the width.
    feet
        Weights of whole lengths in feet.
    defects
        Mean share of the area that is defective as drawn; boards that then fail their
        grade are drawn anew, so that it is set for the published mean to remain.
    crooked
        Share of boards with a crook of 1/2 in or more.
    """

    width: float
    spread: float
    narrowest: float
    widest: float
    feet: Mapping[int, int]
    defects: float
    crooked: float = 0.0


def _weights(text: str) -> dict[int, int]:
    pairs = (pair.split(":") for pair in text.split())
    return {int(feet): int(weight) for feet, weight in pairs}


_FAS = Habit(
    width=8.4, spread=0.24, narrowest=6, widest=16, defects=0.0147,
    feet=_weights("8:5 9:5 10:12 11:8 12:22 13:8 14:18 15:6 16:16"),
)  # fmt: skip
_SELECT = Habit(
    width=7.8, spread=0.26, narrowest=4, widest=14, defects=0.023,
    feet=_weights("6:2 7:3 8:12 9:5 10:15 11:6 12:23 13:5 14:15 15:3 16:11"),
)  # fmt: skip
_COMMON = Habit(
    width=7.3, spread=0.30, narrowest=3, widest=14, defects=0.145, crooked=0.25,
    feet=_weights("4:2 5:3 6:5 7:5 8:16 9:6 10:17 11:5 12:18 13:4 14:10 15:2 16:7"),
)  # fmt: skip
_SECOND = Habit(
    width=7.5, spread=0.32, narrowest=3, widest=14, defects=0.122, crooked=0.25,
    feet=_weights("4:3 5:4 6:6 7:6 8:17 9:6 10:17 11:5 12:16 13:4 14:8 15:2 16:6"),
)  # fmt: skip

# Of grades without published means the next one below stands in: F1F is not better than
# selects, and boards below 2A are drawn as 2A, which is kind to them.
HABITS: Mapping[str, Habit] = {
    "FAS": _FAS, "F1F": _SELECT, "SEL": _SELECT, "1C": _COMMON, "2A": _SECOND,
    "2B": _SECOND, "3A": _SECOND,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Drawn:
    """A random board: as it is tallied and paid for, and as it can be cut.

    A crooked board is cut as if it were narrower: a straight edge takes a part of the
    crook off every section.
    """

    sold: Board
    usable: Board


def draw_board(line: Price, unit: Unit, rng: random.Random, name: str) -> Drawn:
    """Return a random board of a line of a price list, within the sizes it names."""
    grade = line.grade or UNGRADED
    habit = HABITS[grade]
    inch = inch_in(unit) * steps_per_unit(unit)
    width = _width(habit, line, inch, rng)
    length = _length(habit, line, inch, rng)
    size = int(width * inch), int(length * inch)
    boxes = _defects(faces(grade)[1], habit, size, inch, rng)
    sold = Board(
        name=name, where=line.yard, species=line.species, thickness=line.thickness,
        length=size[1], width=size[0], width2=size[0], grade=line.grade,
        sawing=line.sawing, surfaced=line.surfaced, price=line.price,
        marks=tuple(_mark(box, inch, rng) for box in boxes),
    )  # fmt: skip
    lost = int(_crook(habit, length, rng) * BEND * inch)
    usable = size[0] - min(lost, size[0] // 2)
    marks = tuple(_within(mark, usable) for mark in sold.marks if mark.low < usable)
    return Drawn(sold, replace(sold, width=usable, width2=usable, marks=marks))


def _width(habit: Habit, line: Price, inch: Fraction, rng: random.Random) -> Fraction:
    """Return a log-normal width in inches within all limits, to the eighth."""
    low = max(habit.narrowest, _inches(line.narrowest, inch, 0.0))
    high = min(habit.widest, _inches(line.widest, inch, math.inf))
    sigma = math.sqrt(math.log(1 + habit.spread**2))
    middle = math.log(habit.width) - sigma**2 / 2
    if high <= low:  # the yard's limits lie outside what is usual: believe the yard
        low, high = _inches(line.narrowest, inch, high), _inches(line.widest, inch, low)
    for _ in range(1000):
        width = rng.lognormvariate(middle, sigma)
        if low <= width <= high:
            break
    else:
        width = rng.uniform(min(low, high), max(low, high))
    return max(Fraction(1), Fraction(round(width * 8), 8))


def _length(habit: Habit, line: Price, inch: Fraction, rng: random.Random) -> Fraction:
    """Return whole feet by weight and up to 6 in more, in inches, within the limits."""
    low, high = _inches(line.shortest, inch, 0.0), _inches(line.longest, inch, math.inf)
    usual = {
        feet: weight for feet, weight in habit.feet.items() if low <= 12 * feet <= high
    }
    if not usual:
        bottom = low if low > 0 else min(12.0 * max(habit.feet), high)
        return Fraction(math.floor(8 * rng.uniform(bottom, min(high, bottom + 24))), 8)
    feet = rng.choices(list(usual), list(usual.values()))[0]
    over = rng.randint(0, 48)
    return min(Fraction(12 * feet) + Fraction(over, 8), _limit(high))


def _limit(high: float) -> Fraction:
    return Fraction(10**6) if math.isinf(high) else Fraction(high)


def _inches(steps: int | None, inch: Fraction, without: float) -> float:
    return without if steps is None else float(steps / inch)


def _crook(habit: Habit, length: Fraction, rng: random.Random) -> Fraction:
    """Return a crook in inches: a share of boards has 1/2 to 1 in, others up to 1/4 in.

    The share is published; that the rest is nearly straight, and that shorter boards
    have less, is our assumption.
    """
    is_crooked = rng.random() < habit.crooked
    eighths = rng.randint(4, 8) if is_crooked else rng.randint(0, 2)
    return Fraction(eighths, 8) * min(Fraction(1), length / 96)


# --- defects --------------------------------------------------------------------------


def _defects(
    grade: Grade, habit: Habit, size: tuple[int, int], inch: Fraction, rng: random.Random
) -> list[Box]:
    """Return boxes of defects with which a board still makes its grade, as marks show it.

    Their area is the mean share times a gamma variate of shape 2 and mean 1, drawn anew
    where placing after placing fails the grade, and at last made less.
    """
    width, length = size[0] / inch, size[1] / inch
    wide, long = float(width), float(length)
    surface, area = surface_measure(width, length), 0.0
    for attempt in range(2 * TRIES):
        if attempt >= TRIES:
            area *= 0.8
        elif attempt % 4 == 0:
            area = wide * long * habit.defects * rng.gammavariate(2.0, 0.5)
        boxes = [_on_grid(box, size, inch) for box in _boxes(area, wide, long, rng)]
        if makes_grade(grade, surface, wide, long, boxes):
            return boxes
    return []


def _boxes(area: float, wide: float, long: float, rng: random.Random) -> list[Box]:
    """Return boxes of this area in all: knots, wane along an edge, checks at an end."""
    boxes: list[Box] = []
    left, count = area, min(MOST_MARKS, 1 + math.ceil(area / USUAL))
    for _ in range(4 * MOST_MARKS):
        if left < LEAST or len(boxes) >= count:
            break
        rest = count - len(boxes)
        share = left / rest * (rng.uniform(0.5, 1.5) if rest > 1 else 1.0)
        box = _one_box(share, wide, long, rng)
        if any(_overlaps(box, other) for other in boxes):
            continue
        boxes.append(box)
        left -= (box[1] - box[0]) * (box[3] - box[2])
    return boxes


def _one_box(area: float, wide: float, long: float, rng: random.Random) -> Box:
    """Return one defect of about an area, in square inches.

    A knot is up to four times as long as wide, with the grain that bends about it; on a
    board that has much wrong with it a box stands for several.
    """
    kind = rng.random()
    if kind < WANE:
        depth = max(rng.uniform(0.1, 0.5), area / (0.4 * long))
        span = min(area / depth, long)
        start = rng.uniform(0.0, long - span)
        low = 0.0 if rng.random() < 0.5 else wide - depth
        return start, start + span, low, low + depth
    across = min(math.sqrt(area / rng.uniform(1.0, 4.0)), wide / 3)
    along = min(area / across, long / 2)
    if kind < WANE + AT_END:
        start = 0.0 if rng.random() < 0.5 else long - along
    else:
        start = rng.uniform(0.0, long - along)
    low = rng.uniform(0.0, wide - across)
    return start, start + along, low, low + across


def _overlaps(one: Box, other: Box) -> bool:
    return (
        one[0] < other[1] and other[0] < one[1] and one[2] < other[3] and other[2] < one[3]
    )


def makes_grade(
    grade: Grade, surface: int, wide: float, long: float, boxes: Sequence[Box]
) -> bool:
    """Whether clear pieces taken one by one, the largest first, make the grade.

    Other pieces might make it where these do not, so that a board refused here may still
    be of the grade; one accepted here is.
    """
    needed = float(units_needed(grade, surface))
    allowed = cuttings_allowed(grade, surface) or 12
    taken = list(boxes)
    for more in range(allowed, 0, -1):
        box = largest_clear(grade, wide, long, taken)
        if box is None:
            return False
        units = (box[1] - box[0]) * (box[3] - box[2]) / 12
        if units * more < needed - 1e-9:  # none after it is larger
            return False
        needed -= units
        if needed <= 1e-9:
            return True
        taken.append(box)
    return False


def largest_clear(
    grade: Grade, wide: float, long: float, boxes: Sequence[Box]
) -> Box | None:
    """Return the largest clear piece that counts for a grade, None if there is none."""
    edges = sorted({0.0, long, *(e for box in boxes for e in box[:2])})
    shortest = 12 * min(feet for _, feet in grade.cuttings)
    best, most = None, 0.0
    for n, start in enumerate(edges):
        for end in edges[:n:-1]:
            if end - start < shortest or (end - start) * wide <= most:
                break
            low, high = _widest_gap(wide, start, end, boxes)
            area = (end - start) * (high - low)
            if area > most and _counts(grade, high - low, end - start):
                best, most = (start, end, low, high), area
    return best


def _counts(grade: Grade, width: float, length: float) -> bool:
    return any(width >= wide and length >= feet * 12 for wide, feet in grade.cuttings)


def _widest_gap(
    wide: float, start: float, end: float, boxes: Sequence[Box]
) -> tuple[float, float]:
    """Return the widest stretch across that no box touches between two places along."""
    spans = sorted((box[2], box[3]) for box in boxes if box[0] < end and start < box[1])
    best, at = (0.0, 0.0), 0.0
    for low, high in spans:
        if low - at > best[1] - best[0]:
            best = at, low
        at = max(at, high)
    return (at, wide) if wide - at > best[1] - best[0] else best


def _on_grid(box: Box, size: tuple[int, int], inch: Fraction) -> Box:
    """Return a box with its edges rounded outwards to grid steps, within the board."""
    steps, (width, length) = float(inch), size
    return (
        max(0, math.floor(box[0] * steps)) / steps,
        min(length, math.ceil(box[1] * steps)) / steps,
        max(0, math.floor(box[2] * steps)) / steps,
        min(width, math.ceil(box[3] * steps)) / steps,
    )


def _mark(box: Box, inch: Fraction, rng: random.Random) -> Mark:
    """Return a box whose edges lie on the grid as a mark of a board."""
    start, end, low, high = (round(edge * float(inch)) for edge in box)
    sound = rng.random() >= UNSOUND
    return Mark(
        kind="sound knot" if sound else "knot", start=start, end=end, low=low, high=high
    )


def _within(mark: Mark, width: int) -> Mark:
    return replace(mark, high=min(mark.high, width))
