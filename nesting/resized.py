"""A board of a finished plan with other widths of its strips: all that follows, anew."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from nesting.leftovers import leftovers_of
from nesting.loose import LooseSection
from nesting.placing import offcuts_of
from nesting.plan import Cut, CutBoard, Piece
from nesting.problem import Problem
from nesting.project import Project

Span = tuple[int, int]  # lower and upper edge


@dataclass(frozen=True, slots=True)
class Resize:
    """A section, and the new widths of its strips from the lower edge up."""

    section: LooseSection
    widths: tuple[int, ...]

    def spans(self, kerf: int) -> list[tuple[Span, Span]]:
        """Return where each strip was, and where it comes to lie."""
        found, y = [], self.section.strips[0].y
        for strip, width in zip(self.section.strips, self.widths, strict=True):
            found.append(((strip.y, strip.y + strip.width), (y, y + width)))
            y += width + kerf
        return found


def resized(
    project: Project, problem: Problem, cut: CutBoard, resizes: Sequence[Resize]
) -> CutBoard:
    """Return a board with the strips of some sections as wide as they say."""
    kerf = project.shop.kerf
    one = next((one for one in problem.bins if one.name == cut.board), None)
    if not resizes or one is None:
        return cut
    for resize in resizes:
        move = _Move(resize, kerf)
        cut = replace(
            cut,
            pieces=tuple(move.piece(piece) for piece in cut.pieces),
            cuts=tuple(move.cut(each) for each in cut.cuts),
        )
    return replace(cut, offcuts=offcuts_of(project, problem, one, leftovers_of(cut, kerf)))


class _Move:
    """Where things of one section come to lie."""

    def __init__(self, resize: Resize, kerf: int) -> None:
        section = resize.section
        self.begin, self.end = section.x, section.x + section.length
        self.spans = resize.spans(kerf)

    def piece(self, piece: Piece) -> Piece:
        """Return a piece as wide as its strip now is, where its strip now lies."""
        if not self.begin <= piece.x < self.end:
            return piece
        low, high = self._span(piece.y, piece.y + piece.width)
        return replace(piece, y=low, width=high - low)

    def cut(self, cut: Cut) -> Cut:
        """Return a cut of the section where it now goes; any other stays."""
        if cut.kind == "crosscut":
            if not self.begin <= cut.at < self.end:
                return cut
            low, high = self._span(cut.start, cut.end)
            return replace(cut, start=low, end=high)
        if not (self.begin <= cut.start and cut.end <= self.end):
            return cut
        for (_, old), (_, new) in self.spans:
            if (cut.start, cut.end, cut.at) == (self.begin, self.end, old):
                return replace(cut, at=new)
        return replace(cut, at=self._span(cut.at, cut.at)[0])

    def _span(self, low: int, high: int) -> Span:
        """Return where a span comes to lie: all of a strip, or a part of one that moves."""
        for old, new in self.spans:
            if (low, high) == old:
                return new
            if old[0] <= low <= high <= old[1]:
                return low + new[0] - old[0], high + new[0] - old[0]
        return low, high
