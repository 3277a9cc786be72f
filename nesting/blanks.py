"""From finished sizes to rough wood: the blank a part is milled from."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from nesting.goods import Sheet
from nesting.interlock import Nest
from nesting.nests import nests_for
from nesting.parts import Part, Way
from nesting.project import Project
from nesting.shapes import bevel_steps, bounding_size, resaw_thickness
from stock.boards import dressed_size
from stock.shop import Shop


@dataclass(frozen=True, kw_only=True, slots=True)
class Blank:
    """The rough wood one copy of a part asks for; sizes in grid steps, whole saw steps.

    Attributes
    ----------
    part
        Name of the part.
    copies, first
        How many are made, spares included; how many of the part come before them.
    layers
        Face-glued layers per copy; 1 unless the part is laminated.
    leaves
        Leaves that are resawn from each piece; 1 unless the wood is resawn.
    nest
        How copies lie in each piece, if several are sawn out of one by their outlines.
    thickness
        What each piece must dress to: the finished thickness, that of a layer, or that of
        all leaves and what is lost between them.
    sizes
        Rough length and width of a solid blank, one entry per way the grain may run. For
        a panel: rough length of its staves, and the net width that they must add up to;
        where each stave is resawn, its leaf's share of it.
    is_panel
        Whether the blank is glued up edge to edge from staves.
    stave_low, stave_high
        Least and greatest rough width of a stave (net limits plus joint allowance).
    single_high
        Greatest rough width of a panel made from one piece of wood.
    is_short
        Whether the blank is shorter than `shortest machined` (for any of its sizes) and
        must stay in one length of wood with others until planed.
    is_sheet
        Whether it is cut from sheet goods rather than lumber.
    """

    part: str
    copies: int
    first: int = 0
    layers: int = 1
    leaves: int = 1
    nest: Nest | None = None
    thickness: int
    sizes: tuple[tuple[int, int], ...]
    is_panel: bool = False
    stave_low: int = 0
    stave_high: int = 0
    single_high: int = 0
    is_short: bool = False
    is_sheet: bool = False

    @property
    def units(self) -> int:
        """Pieces or panels to cut: every layer of every copy, or several copies at once."""
        per_piece = self.nest.copies if self.nest else self.leaves
        if per_piece > 1 and not self.is_panel:
            return -(-self.copies // per_piece)
        return self.copies * self.layers


def blanks_for(project: Project) -> tuple[Blank, ...]:
    """Return one blank per part, in the order of the parts."""
    sheets = {name: sheet for sheet in project.sheets for name in sheet.names}
    dressed = dressed_by_species(project)
    return tuple(
        sheet_blank_for(part, sheets[part.species])
        if part.species in sheets
        else blank_for(part, project.shop, dressed.get(part.species, ()))
        for part in project.parts
    )


def blank_for(
    part: Part, shop: Shop, dressed: Iterable[int] = (), way: Way | None = None
) -> Blank:
    """Return the rough wood that a part of lumber is milled from.

    Parameters
    ----------
    dressed
        What the listed wood of the part's species dresses to, in grid steps; settles in
        how many layers a laminated part is made.
    way
        How its thickness comes about; None: in one leaf, in those layers.
    """
    layers = way.layers if way else usual_layers(part, dressed)
    finished = grain_ways(part)
    is_panel = _is_panel(part, finished, shop)
    if is_panel:
        finished = (max(finished, key=lambda size: size[0]),)
    elif part.build in ("auto", "laminate"):
        finished = tuple(size for size in finished if size[1] <= shop.widest_solid)
    beyond = shop.crosscut_allowance + bevel_steps(part.thickness, part.end_angle)
    beside = shop.panel_allowance if is_panel else shop.rip_allowance
    sizes = tuple(
        (shop.up(along + beyond), shop.up(across + beside)) for along, across in finished
    )
    blank = Blank(
        part=part.name,
        copies=part.copies,
        layers=layers,
        thickness=-(-part.thickness // layers),
        sizes=sizes,
        is_panel=is_panel,
        stave_low=shop.up(shop.narrowest_stave + shop.joint_allowance),
        stave_high=shop.down(shop.widest_stave + shop.joint_allowance),
        single_high=shop.up(shop.widest_solid + shop.joint_allowance),
        is_short=any(length < shop.shortest_machined for length, _ in sizes),
    )
    if way and way.nested > 1:
        return _nested(blank, part, way.nested, shop)
    return _resawn(blank, way.leaves, shop) if way and way.leaves > 1 else blank


def _nested(blank: Blank, part: Part, copies: int, shop: Shop) -> Blank:
    """Return the blank of several copies; no sizes if no nest of them saves wood."""
    nest = next((one for one in nests_for(part, shop) if one.copies == copies), None)
    if nest is None:
        return replace(blank, sizes=())
    size = (
        shop.up(nest.length + shop.crosscut_allowance),
        shop.up(nest.width + shop.rip_allowance),
    )
    is_short = size[0] < shop.shortest_machined
    return replace(blank, nest=nest, sizes=(size,), is_short=is_short)


def _resawn(blank: Blank, leaves: int, shop: Shop) -> Blank:
    """Return the blank of thicker wood that leaves are resawn from; no sizes: too wide.

    Leaves of a stave lie in one panel, so each stands for its share of the net width.
    """
    tallest = shop.resaw_height
    sizes = blank.sizes
    if blank.is_panel:
        sizes = tuple((along, shop.up(-(-net // leaves))) for along, net in sizes)
    elif tallest is not None:
        sizes = tuple(size for size in sizes if size[1] <= tallest)
    high = blank.stave_high
    return replace(
        blank,
        leaves=leaves,
        thickness=resawn_from(leaves, blank.thickness, shop),
        sizes=sizes,
        stave_high=high if tallest is None else min(high, shop.down(tallest)),
        single_high=0,
    )


def resawn_from(leaves: int, thickness: int, shop: Shop) -> int:
    """Return what wood must dress to for some leaves of a thickness, in grid steps.

    A leaf loses `resaw allowance` on its two faces to cleaning up after the saw. The two
    outer faces of the wood are clean once it is dressed, so that is one allowance less.
    """
    lost = shop.resaw_allowance
    return resaw_thickness(leaves, thickness, lost, shop.kerf) - lost


def sheet_blank_for(part: Part, sheet: Sheet) -> Blank:
    """Return the rectangle that a part of sheet goods is cut out as; no allowances."""
    ways = grain_ways(part if sheet.has_grain else replace(part, grain="either"))
    bevel = bevel_steps(part.thickness, part.end_angle)
    return Blank(
        part=part.name,
        copies=part.copies,
        thickness=part.thickness,
        sizes=tuple((along + bevel, across) for along, across in ways),
        is_sheet=True,
    )


def grain_ways(part: Part) -> tuple[tuple[int, int], ...]:
    """Return finished sizes with joinery, along and across the grain, per way to lie."""
    length, width = bounding_size(part)
    along, across = length + part.add_length, width + part.add_width
    ways = {
        "length": ((along, across),),
        "width": ((across, along),),
        "either": ((along, across), (across, along)),
    }[part.grain]
    return tuple(dict.fromkeys(ways))


def _is_panel(part: Part, ways: tuple[tuple[int, int], ...], shop: Shop) -> bool:
    """Whether a part (or each of its layers) is glued up from staves."""
    if part.build in ("solid", "panel"):
        return part.build == "panel"
    return all(across > shop.widest_solid for _, across in ways)


def usual_layers(part: Part, dressed: Iterable[int]) -> int:
    """Return the fewest layers of a laminate, two at least, that listed wood can give."""
    if part.build != "laminate":
        return 1
    thickest = max(dressed, default=0)
    return max(2, -(-part.thickness // thickest)) if thickest else 2


def dressed_by_species(project: Project) -> dict[str, set[int]]:
    """Return what the listed wood of each species dresses to, in grid steps."""
    listed = [(board.species, board.thickness, board.surfaced) for board in project.boards]
    listed += [(line.species, line.thickness, line.surfaced) for line in project.prices]
    found: dict[str, set[int]] = {}
    for species, thickness, surfaced in listed:
        found.setdefault(species, set()).add(
            dressed_size(thickness, surfaced, project.shop)
        )
    return found
