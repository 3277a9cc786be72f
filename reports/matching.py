"""How alike sets are and how panels match, in words; costs are in points of our own."""

from __future__ import annotations

from nesting.plan import ONE_FLITCH, PanelPlan, SetPlan
from reports.plaintext import money


def set_words(one: SetPlan) -> str:
    """Return how alike a set comes out, what that costs, and why it is not more alike."""
    words = f"{one.likeness}: {one.source}" if one.source else one.likeness
    if one.extra_cost > 0:
        words += f"; {money(one.extra_cost)} more than a plan without this wish"
    if one.why and one.likeness != ONE_FLITCH:
        words += f" ({one.why})"
    return words


def panel_words(panel: PanelPlan) -> str:
    """Return what a panel counts for not looking like one piece, the largest term first."""
    terms = sorted(panel.match_cost, key=lambda term: (-term[1], term[0]))
    total = sum(tenths for _, tenths in terms)
    if not terms:
        return "0 points"
    parts = ", ".join(f"{name} {tenths / 10:g}" for name, tenths in terms)
    return f"{total / 10:g} points: {parts}"


def planing_words(panel: PanelPlan) -> str:
    """Return from which end the panel is planed.

    On the heart side the fibres rise the other way than on the bark side, so a stave that
    is turned over and end for end planes as before (common practice, no source).
    """
    if not all(stave.face for stave in panel.staves):
        return "look at each stave: the grain should rise the same way in all"
    ways = {stave.turned == (stave.face == "heart") for stave in panel.staves}
    if len(ways) == 1:
        return "all staves from one end; try it on one first"
    return "not all staves from one end: take thin cuts, or scrape"
