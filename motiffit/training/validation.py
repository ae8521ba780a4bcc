"""A quick judgement of a trained net on the photos held back, without the rest of the program.

Each photo is looked at twice on the GPU: its labelled garment, and the box found, from near.
`evaluate` judges the whole way from photo to size; this tells in seconds which training is better.
"""

import numpy as np
import torch
from torch import Tensor

from motiffit.training.augment import MAX_BOXES, MAX_CARDS, Batch, render
from motiffit.training.bank import Bank, Item
from motiffit.training.losses import boxes_of_cells, overlap
from motiffit.training.net import INPUT_PX, FinderNet

__all__ = ["held_back_figures"]

Array = np.ndarray
CHUNK = 64
GARMENT_HALF = 0.55  # half a view's side in parts of the garment's longer side
NEAR_HALF = 1.15  # and in parts of the motif's, seen from near
AGREEING = 0.6  # IoU with the best cell's box from which another cell has a say


@torch.no_grad()
def held_back_figures(net: FinderNet, bank: Bank, held_back: set[str]) -> dict[str, float]:
    """Return shares of motif photos at IoU 0.5, 0.8 and 0.9, and of all photos told apart."""
    rows = [
        i
        for i, item in enumerate(bank.items)
        if item.source == "photo" and held_back & set(item.homes)
    ]
    net.eval()
    device = next(net.parameters()).device
    pictures, masks = (torch.from_numpy(a[rows]).to(device) for a in (bank.pictures, bank.masks))
    stored = pictures, masks
    items = [bank.items[i] for i in rows]
    garments = np.array([item.garment for item in items])
    first, has = _look(net, stored, items, garments, GARMENT_HALF)
    found, _ = _look(net, stored, items, first, NEAR_HALF)
    with_motif = np.array([item.has for item in items])
    best = np.array([_best(box, item) for box, item in zip(found, items, strict=True) if item.has])
    return {
        "photos": len(items),
        "motifs": len(best),
        **{f"iou{level}": float((best >= level / 10).mean()) for level in (5, 8, 9)},
        "mean_iou": float(best.mean()),
        "told": float(((has > 0) == with_motif).mean()),
        "told_best": max(float(((has > t) == with_motif).mean()) for t in np.linspace(-3, 3, 61)),
        "order": _order(has[with_motif], has[~with_motif]),
    }


def _look(
    net: FinderNet, stored: tuple[Tensor, Tensor], items: list[Item], around: Array, reach: float
) -> tuple[Array, Array]:
    """Return the box found (N, 4) in each picture, seen about a box, and the logit of a motif."""
    middle = (around[:, :2] + around[:, 2:]) / 2
    half = np.maximum(reach * (around[:, 2:] - around[:, :2]).max(1), 8.0)
    boxes, logits = [], []
    for start in range(0, len(items), CHUNK):
        part = slice(start, start + CHUNK)
        batch = _batch(items[part], start, middle[part], half[part]).to(stored[0].device)
        out = net(render(stored, batch, colour=False)[0])
        seen = _voted(out.cells).cpu().numpy() / INPUT_PX * 2 - 1
        place = np.tile(middle[part], 2) + seen * half[part, None]
        boxes.append(place)
        logits.append(out.has.cpu().numpy())
    return np.concatenate(boxes), np.concatenate(logits)


def _voted(cells: Tensor) -> Tensor:
    """Return the box (B, 4) of each best cell, averaged with the cells that agree."""
    score = torch.sigmoid(cells[:, 0]).flatten(1)
    boxes = boxes_of_cells(cells).flatten(1, 2)
    top, at = score.max(1)
    best = torch.gather(boxes, 1, at[:, None, None].expand(-1, 1, 4))
    agrees = (overlap(boxes, best)[0] > AGREEING) & (score > 0.5 * top[:, None])
    weight = (score * agrees)[..., None]
    return (boxes * weight).sum(1) / weight.sum(1)


def _batch(items: list[Item], start: int, middle: Array, half: Array) -> Batch:
    """Describe upright views without cards, floors or frames."""
    count = len(items)
    to_source = np.tile(np.eye(3), (count, 1, 1))
    to_source[:, 0, 0] = to_source[:, 1, 1] = half
    to_source[:, :2, 2] = middle
    none = torch.zeros(count)
    return Batch(
        index=torch.arange(start, start + count),
        to_source=torch.from_numpy(np.float32(to_source)),
        size=torch.tensor([[float(i.width), float(i.height)] for i in items]),
        boxes=torch.zeros(count, MAX_BOXES, 4),
        state=torch.zeros(count, MAX_BOXES),
        boxed=none,
        has=none,
        has_weight=none,
        turn=torch.zeros(count, 2),
        turn_weight=none,
        reflect=none,
        floor=torch.full((count,), -1),
        floor_to_source=torch.eye(3).repeat(count, 1, 1),
        frame=torch.full((count, 2), 2.0),
        cards=torch.zeros(count, MAX_CARDS, 4),
    )


def _best(box: Array, item: Item) -> float:
    """Return the best overlap with a true box."""
    mine = torch.from_numpy(box).expand(len(item.boxes), 4)
    return float(overlap(mine, torch.from_numpy(item.boxes))[0].max())


def _order(with_motif: Array, without: Array) -> float:
    """Return how often a garment with a motif scores above one without (the area under ROC)."""
    return float((with_motif[:, None] > without[None]).mean())
