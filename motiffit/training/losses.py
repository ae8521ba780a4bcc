"""What the net is asked for: targets on its grids, and the weighted sum of losses."""

import torch
from torch import Tensor
from torch.nn import functional as F

from motiffit.training.augment import FOUND, VAGUE, Batch
from motiffit.training.net import INPUT_PX, REACH, Outputs

__all__ = ["boxes_of_cells", "overlap", "total_loss"]

INNER = 0.6  # the middle share of a box whose cells must find it
LEAST_HALF_PX = 5.0  # of that middle, so that the smallest motif still has a cell


def total_loss(out: Outputs, garment: Tensor, batch: Batch) -> tuple[Tensor, dict[str, Tensor]]:
    """Return the loss of a batch and its parts."""
    parts = cell_losses(out.cells, batch)
    parts["has"] = 0.5 * _weighted(
        F.binary_cross_entropy_with_logits(out.has, 0.02 + 0.96 * batch.has, reduction="none"),
        batch.has_weight,
    )
    parts["masks"] = 0.7 * mask_loss(out.masks, garment, batch)
    parts["turn"] = 0.6 * turn_loss(out, batch)
    return torch.stack(list(parts.values())).sum(), parts


def cell_losses(cells: Tensor, batch: Batch) -> dict[str, Tensor]:
    """Return quality focal loss of the scores, and box losses of the cells in the inner boxes."""
    score, boxes = cells[:, 0], boxes_of_cells(cells)
    inner, ignored, match = _assign(batch, cells.shape[-1])
    truth = torch.gather(batch.boxes, 1, match.flatten(1)[..., None].expand(-1, -1, 4))
    truth = truth.view(*match.shape, 4)
    iou, giou = overlap(boxes, truth)
    share = inner / inner.sum((1, 2), keepdim=True).clamp(min=1)  # each motif photo counts alike
    weight = share * 12
    quality = torch.where(inner, iou.detach().clamp(0, 1), torch.zeros_like(iou))
    focal = (torch.sigmoid(score) - quality).abs() ** 2
    focal = focal * F.binary_cross_entropy_with_logits(score, quality, reduction="none")
    on = (~ignored & ~inner).float() + weight
    on = on * batch.boxed[:, None, None]
    weight = weight * batch.boxed[:, None, None]
    count = weight.sum().clamp(min=1)
    size = _area(truth, least=4).sqrt()
    off = (boxes - truth).abs()
    log_scale = cells[:, 5:9].permute(0, 2, 3, 1).clamp(-6, 6)
    surprise = off.detach() * torch.exp(-log_scale) + log_scale  # Laplace, px
    return {
        "score": 3 * (focal * on).sum() / count,
        "giou": 2 * ((1 - giou) * weight).sum() / count,
        "edges": 2 * (off.mean(-1) / size * weight).sum() / count,
        "scales": 0.3 * (surprise.mean(-1) * weight).sum() / count,
    }


def boxes_of_cells(cells: Tensor) -> Tensor:
    """Return the box (B, h, w, 4) that each cell proposes, in pixels of the view."""
    side = cells.shape[-1]
    axis = (torch.arange(side, device=cells.device) + 0.5) * INPUT_PX / side
    y, x = torch.meshgrid(axis, axis, indexing="ij")
    reach = torch.exp(cells[:, 1:5].clamp(-6, 4)) * REACH * INPUT_PX
    left, top, right, low = reach.unbind(1)
    return torch.stack([x - left, y - top, x + right, y + low], -1)


def _assign(batch: Batch, side: int) -> tuple[Tensor, Tensor, Tensor]:
    """Tell for each cell: in an inner box; to be ignored; which box."""
    axis = (torch.arange(side, device=batch.boxes.device) + 0.5) * INPUT_PX / side
    y, x = torch.meshgrid(axis, axis, indexing="ij")
    x, y = x[None, None], y[None, None]
    x0, y0, x1, y1 = (batch.boxes[..., i, None, None] for i in range(4))
    cx, cy = (x0 + x1) / 2, (y0 + y1) / 2
    rx = ((x1 - x0) * INNER / 2).clamp(min=LEAST_HALF_PX)
    ry = ((y1 - y0) * INNER / 2).clamp(min=LEAST_HALF_PX)
    found = (batch.state == FOUND)[..., None, None]
    vague = (batch.state == VAGUE)[..., None, None]
    middle = ((x - cx).abs() <= rx) & ((y - cy).abs() <= ry) & found
    within = (x > x0) & (x < x1) & (y > y0) & (y < y1) & (found | vague)
    area = ((x1 - x0) * (y1 - y0)).expand_as(middle).masked_fill(~middle, torch.inf)
    inner = middle.any(1)
    return inner, (within | middle).any(1) & ~inner, area.argmin(1)


def overlap(a: Tensor, b: Tensor) -> tuple[Tensor, Tensor]:
    """Return IoU and generalised IoU of boxes (..., 4)."""
    cross = (torch.minimum(a[..., 2:], b[..., 2:]) - torch.maximum(a[..., :2], b[..., :2])).clamp(0)
    hull = torch.maximum(a[..., 2:], b[..., 2:]) - torch.minimum(a[..., :2], b[..., :2])
    shared = cross[..., 0] * cross[..., 1]
    around = (hull[..., 0] * hull[..., 1]).clamp(min=1e-6)
    joint = _area(a) + _area(b) - shared
    iou = shared / joint.clamp(min=1e-6)
    return iou, iou - (around - joint) / around


def _area(boxes: Tensor, least: float | None = None) -> Tensor:
    """Return the area of boxes (..., 4); torch's product over an axis is slow to differentiate."""
    sides = boxes[..., 2:] - boxes[..., :2]
    sides = sides if least is None else sides.clamp(min=least)
    return sides[..., 0] * sides[..., 1]


def mask_loss(masks: Tensor, garment: Tensor, batch: Batch) -> Tensor:
    """Return cross-entropy of both masks where they are known, with Dice on the motif's."""
    known = (garment >= 0).float()
    cloth = F.binary_cross_entropy_with_logits(masks[:, :1], garment.clamp(min=0), reduction="none")
    side = masks.shape[-1]
    axis = (torch.arange(side, device=masks.device) + 0.5) * INPUT_PX / side
    y, x = torch.meshgrid(axis, axis, indexing="ij")
    x0, y0, x1, y1 = (batch.boxes[..., i, None, None] for i in range(4))
    in_box = (x > x0) & (x < x1) & (y > y0) & (y < y1) & (batch.state > 0)[..., None, None]
    target, logit = in_box.any(1).float(), masks[:, 1]
    motif = F.binary_cross_entropy_with_logits(logit, target, reduction="none").mean((1, 2))
    p = torch.sigmoid(logit)
    dice = 1 - (2 * (p * target).sum((1, 2)) + 20) / (p.sum((1, 2)) + target.sum((1, 2)) + 20)
    return _weighted(cloth, known) + _weighted(motif + 0.5 * dice, batch.boxed)


def turn_loss(out: Outputs, batch: Batch) -> Tensor:
    """Return the squared error of the garment's direction, averaged over its predicted mask."""
    side = out.up.shape[-1]
    cloth = torch.sigmoid(F.adaptive_avg_pool2d(out.masks[:, :1].detach(), side))
    mean = (out.up * cloth).sum((2, 3)) / cloth.sum((2, 3)).clamp(min=1e-3)
    return _weighted((mean - batch.turn).square().sum(1), batch.turn_weight)


def _weighted(values: Tensor, weights: Tensor) -> Tensor:
    """Return the weighted mean."""
    return (values * weights).sum() / weights.sum().clamp(min=1e-6)
