"""Usual rules for buying more than the net: what is added, and what is lost.

`buy = net (1 + m)` for an add-on m, `buy = net / (1 - w)` for a loss w: two meanings of
one percentage (a trade page prints 142.85 for 100 net and 30 % loss).
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True, slots=True)
class AddOn:
    """A rule of thumb: its name, and percent added to the net board feet."""

    name: str
    percent: Fraction


# Trade pages and magazine advice: common practice.
RULES: tuple[AddOn, ...] = (
    AddOn("a fifth more", Fraction(20)),
    AddOn("30 % more", Fraction(30)),
    AddOn("half as much again", Fraction(50)),
    AddOn("twice the net", Fraction(100)),
)


def with_add_on(net: Fraction, percent: Fraction) -> Fraction:
    """Return what to buy if so many percent of the net are added."""
    return net * (1 + percent / 100)


def with_loss(net: Fraction, percent: Fraction) -> Fraction:
    """Return what to buy if so many percent of it are lost.

    ValueError if everything is lost.
    """
    if not 0 <= percent < 100:
        raise ValueError("a loss is from 0 to less than 100 percent")
    return net / (1 - percent / 100)


def loss_of(percent: Fraction) -> Fraction:
    """Return the loss, in percent of what is bought, that an add-on allows for."""
    return 100 * percent / (100 + percent)
