"""What the quilter should know or decide before she buys and cuts, said in the plan."""

from collections.abc import Iterable, Iterator, Sequence

from motiffit.quilt.backing import Backing
from motiffit.quilt.fitting import block_with_strips
from motiffit.quilt.lengths import format_cut
from motiffit.quilt.plan import Plan
from motiffit.quilt.setting import list_grids
from motiffit.record import Message, make_message

__all__ = ["list_notices"]

_MOST_NAMES = 6


def list_notices(plan: Plan) -> tuple[Message, ...]:
    """Return the plan's messages, warnings first."""
    found = [
        *_about_garments(plan),
        *_about_extensions(plan),
        *_about_blocks(plan),
        *_about_layout(plan),
        *_about_cloth(plan),
    ]
    return tuple(sorted(found, key=lambda message: message.severity != "warning"))


def _names(names: Sequence[str]) -> str:
    """Name some, count the rest."""
    if len(names) <= _MOST_NAMES:
        return ", ".join(names)
    return f"{', '.join(names[:_MOST_NAMES])} and {len(names) - _MOST_NAMES} more"


def _about_garments(plan: Plan) -> Iterator[Message]:
    """Garments not settled, those without a motif, and photos that give no block."""
    placed = [centre for centre in plan.centres if centre.photo not in plan.layout.spare]
    unsure = [centre.name for centre in placed if centre.needs_an_eye]
    if unsure:
        yield make_message("plan-check", count=len(unsure), names=_names(unsure))
    plain = [centre.name for centre in placed if not centre.has_motif]
    if plain:
        yield make_message("plan-no-motif", count=len(plain), names=_names(plain))
    for code, is_too_small in (("plan-left-out", False), ("plan-too-small", True)):
        left = [one.name for one in plan.left_out if one.is_too_small is is_too_small]
        if left:
            yield make_message(code, count=len(left), names=_names(left))


def _about_extensions(plan: Plan) -> Iterator[Message]:
    """Garments with too little cloth."""
    pieces = plan.extensions.pieces
    crossing = _unique(piece.name for piece in pieces if piece.crosses_motif)
    names = [name for name in _unique(piece.name for piece in pieces) if name not in crossing]
    if names:
        yield make_message("plan-extension", count=len(names), names=_names(names))
    if crossing:
        yield make_message("plan-extension-crosses", names=_names(crossing))


def _unique(names: Iterable[str]) -> list[str]:
    """Each name once, in order."""
    return list(dict.fromkeys(names))


def _about_blocks(plan: Plan) -> Iterator[Message]:
    """Blocks without strips, centres off the middle, and strips cut wider."""
    units = plan.options.units
    yield from _about_strips(plan)
    yield from _about_middles(plan)
    if plan.options.seam_take_up_mm:
        most = max(kind.block.shrink_mm for kind in plan.kinds)
        yield make_message(
            "plan-take-up",
            take_up=format_cut(plan.options.seam_take_up_mm, units),
            shrink=format_cut(most, units),
        )


def _about_middles(plan: Plan) -> Iterator[Message]:
    """Centres off the middle: for want of half a round, or by strips of several widths."""
    off = [kind.block for kind in plan.kinds if not kind.block.is_centred]
    for code, is_odd in (("plan-off-centre", 1), ("plan-off-centre-widths", 0)):
        sizes = _unique(
            format_cut(block.centre_mm, plan.options.units)
            for block in off
            if block.half_rounds % 2 == is_odd
        )
        if sizes:
            yield make_message(code, sizes=", ".join(sizes))


def _about_strips(plan: Plan) -> Iterator[Message]:
    """Blocks that get no strips, and the next block size that gives some to all."""
    bare = [kind for kind in plan.kinds if not kind.block.strips]
    if bare:
        centres = [kind.block.centre_mm for kind in plan.kinds]
        options = plan.options
        block = block_with_strips(centres, plan.strips_mm, options.construction, options.units)
        yield make_message(
            "plan-no-strips",
            count=sum(kind.count for kind in bare),
            sizes=", ".join(format_cut(kind.block.centre_mm, options.units) for kind in bare),
            block="a larger size" if block is None else format_cut(block, options.units),
        )


def _about_layout(plan: Plan) -> Iterator[Message]:
    """Tell of a size missed, empty places, garments left over, wishes not met."""
    yield from _about_size(plan)
    if plan.grid.missing:
        yield make_message("plan-missing", count=plan.grid.missing)
    if plan.layout.spare:
        spare = [centre.name for centre in plan.centres if centre.photo in plan.layout.spare]
        yield make_message("plan-spare", count=len(spare), names=_names(spare))
    for wish in plan.layout.unmet:
        yield make_message("plan-wish-unmet", wish=wish)


def _about_size(plan: Plan) -> Iterator[Message]:
    """Tell where the rows or columns asked for miss a wished size that others would come near."""
    wish, grid, units = plan.options.wish_mm, plan.grid, plan.options.units
    if wish is None:
        return
    best = list_grids(len(plan.centres), plan.setting, wish)[0]
    if (best.rows, best.columns) != (grid.rows, grid.columns):
        size, wished = (
            f"{format_cut(width, units)} x {format_cut(height, units)}"
            for width, height in ((grid.width_mm, grid.height_mm), wish)
        )
        yield make_message("plan-size-unmet", size=size, wished=wished)


def _about_back_seam(backing: Backing) -> Message:
    """Say which way the one seam of the back runs, or that it can be split."""
    if backing.can_split:
        return make_message("plan-backing-split")
    return make_message("plan-backing-seam", run=backing.run)


def _about_cloth(plan: Plan) -> Iterator[Message]:
    """Cuttings not proven, narrower bolts, the back's seam, batting too large for a package."""
    units = plan.options.units
    for need in plan.fabrics:
        name, narrower = need.fabric.name, need.narrower
        width = format_cut(narrower.cloth_width_mm, units)
        for group in need.groups:
            if not group.is_proven:
                yield make_message(
                    "plan-not-proven", fabric=name, strips=group.strips, at_least=group.at_least
                )
        if narrower.purchase is None:
            yield make_message("plan-bolt-too-narrow", fabric=name, width=width)
        elif narrower.purchase.buy_mm > need.purchase.buy_mm:
            yield make_message(
                "plan-narrower",
                fabric=name,
                width=width,
                narrow=narrower.purchase.words,
                words=need.purchase.words,
            )
    if plan.layers.backing.panels == 2:
        yield _about_back_seam(plan.layers.backing)
    if plan.layers.batting.package is None:
        size = [
            format_cut(side, units)
            for side in (plan.layers.batting.width_mm, plan.layers.batting.height_mm)
        ]
        yield make_message("plan-batting", width=size[0], height=size[1])
