"""Views of the bank: which part of which picture, how turned, and what is true in it.

`View` draws are cheap NumPy; `render` warps and recolours a whole batch on the GPU.
"""

from dataclasses import dataclass

import numpy as np
import torch
from torch import Tensor
from torch.nn import functional as F

from motiffit.training.bank import Item
from motiffit.training.net import INPUT_PX
from motiffit.training.scenes import SCENE_PX

__all__ = ["BOXED_TURN_DEG", "MAX_BOXES", "MAX_CARDS", "Batch", "Sampler", "render"]

Array = np.ndarray
MAX_BOXES = 6
MAX_CARDS = 2
LAID = {"scene": 0.7, "garment": 0.22, "zoom": 0.05}  # share of garments laid on another floor
NEAR, FAR, FAR_SHARE = (0.36, 0.75), (0.75, 1.05), 0.4
"""Half the side of a view of the whole scene, in parts of the picture; a long photo leaves much of
its square view empty, as the far ones do."""
BOXED_TURN_DEG = 24.0  # boxes are only learnt where the garment stands nearly upright
SOURCES = (
    ("photo+", 0.35),
    ("photo-", 0.14),
    ("bare", 0.06),
    ("trim", 0.05),
    ("paste", 0.27),
    ("scene", 0.13),
)
FOUND, VAGUE = 1, 2  # states of a box: to be found; cut by the view, so neither right nor wrong


@dataclass
class Batch:
    """One batch of views; lengths in pixels of the view, turns in degrees."""

    index: Tensor  # (B,) row of the bank
    to_source: Tensor  # (B, 3, 3): view coordinates -1..1 to source pixels
    size: Tensor  # (B, 2): width and height of the source
    boxes: Tensor  # (B, K, 4)
    state: Tensor  # (B, K)
    boxed: Tensor  # (B,): whether boxes count in this view
    has: Tensor  # (B,)
    has_weight: Tensor  # (B,)
    turn: Tensor  # (B, 2): cosine and sine
    turn_weight: Tensor  # (B,)
    reflect: Tensor  # (B,): mirror the picture beyond its edges instead of leaving grey
    floor: Tensor  # (B,): row of the bank on which the garment is laid, -1 to leave it where it is
    floor_to_source: Tensor  # (B, 3, 3): view coordinates to that floor's pixels
    frame: Tensor  # (B, 2): beyond these view coordinates the view is grey, as beyond a photo
    cards: (
        Tensor  # (B, C, 4): centre, half side, turn (radians) of grey squares, in view coordinates
    )

    def to(self, device: torch.device) -> "Batch":
        """Move to a device."""
        moved = {k: v.to(device, non_blocking=True) for k, v in self.__dict__.items()}
        return Batch(**moved)


class Sampler:
    """Draws views of the pictures whose homes are not held back."""

    def __init__(self, items: list[Item], held_back: set[str], size: int, seed: int) -> None:
        kept = [i for i, item in enumerate(items) if not held_back & set(item.homes)]
        self.items, self.size, self.rng = items, size, np.random.default_rng(seed)
        self.floors = np.array([i for i, item in enumerate(items) if item.source == "floor"])
        self.pools: dict[str, tuple[Array, Array]] = {}
        for name, _ in SOURCES:
            rows = np.array([i for i in kept if _belongs(items[i], name)])
            weight = np.array([items[i].weight for i in rows])
            self.pools[name] = rows, weight / weight.sum()

    def draw(self) -> Batch:
        """Draw one batch."""
        names = self.rng.choice([s[0] for s in SOURCES], self.size, p=[s[1] for s in SOURCES])
        rows = [int(self.rng.choice(self.pools[n][0], p=self.pools[n][1])) for n in names]
        views = [_view(self.items[row], self.floors, self.rng) for row in rows]
        columns = {k: np.stack([v[k] for v in views]) for k in views[0]}
        floor = torch.from_numpy(columns.pop("floor"))
        tensors = {k: torch.from_numpy(np.float32(v)) for k, v in columns.items()}
        return Batch(index=torch.tensor(rows), floor=floor, **tensors)


def _belongs(item: Item, pool: str) -> bool:
    """Tell whether a picture belongs to a pool."""
    if item.source != "photo":
        return item.source == pool
    return pool == ("photo+" if item.has else "photo-")


def _view(item: Item, floors: Array, rng: np.random.Generator) -> dict[str, Array]:
    """Draw one view: of the scene, of the garment, or a second look at a motif."""
    x0, y0, x1, y1 = item.garment
    middle, length = np.array([x0 + x1, y0 + y1]) / 2, max(x1 - x0, y1 - y0)
    manner = rng.choice(["scene", "garment", "zoom"], p=[0.22, 0.38, 0.4])
    laid = _can_be_laid(item) and rng.random() < LAID[manner]
    turn = rng.normal(0, 7 if laid else 4)
    if manner == "scene":
        far = rng.random() < FAR_SHARE
        half = max(item.width, item.height) * rng.uniform(*(FAR if far else NEAR))
        middle = (
            0.5 * middle
            + 0.25 * np.array([item.width, item.height])
            + rng.normal(0, 0.05, 2) * length
        )
        # a photo turned with its frame would teach the frame's turn, so only laid garments turn far
        if laid and rng.random() < 0.75:
            turn = rng.uniform(-180, 180) if rng.random() < 0.5 else rng.normal(0, 22)
    elif manner == "garment":
        half = length * rng.uniform(0.47, 0.68)
        middle = middle + rng.normal(0, 0.04, 2) * length
    elif len(item.boxes):
        a, b, c, d = item.boxes[rng.integers(len(item.boxes))]
        extent = max(c - a, d - b)
        half = max(extent * np.exp(rng.uniform(np.log(0.65), np.log(1.75))), 14.0)
        slack = max(half - 0.5 * extent, 0.1 * extent)
        middle = np.array([a + c, b + d]) / 2 + rng.uniform(-0.5, 0.5, 2) * slack
    else:
        half = length * rng.uniform(0.24, 0.5)
        middle = middle + rng.uniform(-0.3, 0.3, 2) * (x1 - x0, y1 - y0)
    matrix, seen_turn = _matrix(middle, half, turn, item, rng)
    boxes, state = _seen_boxes(item, matrix)
    has_weight = {"scene": 1.0, "garment": 1.0, "zoom": 0.4}[manner]
    has = item.has if not item.has or manner != "zoom" else bool((state > 0).any())
    boxed = abs(seen_turn) < BOXED_TURN_DEG and (item.turn_known or manner != "scene")
    angle = np.deg2rad(seen_turn)
    return {
        "to_source": matrix,
        "size": np.array([item.width, item.height]),
        "boxes": boxes,
        "state": state,
        "boxed": np.array(boxed),
        "has": np.array(has),
        "has_weight": np.array(has_weight if item.has == bool((state > 0).any()) else 0.0),
        "turn": np.array([np.cos(angle), np.sin(angle)]),
        "turn_weight": np.array(float(item.turn_known) * (0.3 if manner == "zoom" else 1.0)),
        "reflect": np.array(rng.random() < 0.3),
        "cards": _cards(manner, boxes, state, rng),
        "floor": np.array(rng.choice(floors) if laid else -1),
        "floor_to_source": _floor_matrix(half, rng),
        "frame": _frame(manner, boxes, state, rng) if laid else np.full(2, 2.0),
    }


def _can_be_laid(item: Item) -> bool:
    """Tell whether a garment is whole and cut out well enough to be laid elsewhere."""
    x0, y0, x1, y1 = item.garment
    return item.masked and min(x0, y0, item.width - x1, item.height - y1) > 2


def _floor_matrix(half: float, rng: np.random.Generator) -> Array:
    """Return a map from view to floor pixels: any turn, about the garment's scale."""
    angle, reach = rng.uniform(0, 2 * np.pi), half * rng.uniform(0.7, 1.4)
    matrix = np.eye(3)
    matrix[:2, :2] = reach * np.array(
        [[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]]
    )
    matrix[:2, 2] = rng.uniform(100, 380, 2)
    return matrix


def _frame(manner: str, boxes: Array, state: Array, rng: np.random.Generator) -> Array:
    """Draw how far the photo reaches in the view, seldom less than all of it, never in a motif."""
    frame = np.full(2, 2.0)
    if manner != "zoom" and rng.random() < 0.7:
        frame[rng.integers(2)] = rng.uniform(0.7, 1.0)
    for box, is_box in zip(boxes, state, strict=True):
        if is_box:
            reach = np.abs(box / INPUT_PX * 2 - 1).reshape(2, 2).max(0)
            frame = np.maximum(frame, reach + 0.02)
    return frame


def _matrix(
    middle: Array, half: float, turn_deg: float, item: Item, rng: np.random.Generator
) -> tuple[Array, float]:
    """Return the map from view to source, and the garment's turn as the view shows it."""
    angle = np.deg2rad(turn_deg)
    rotate = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    aspect = np.exp(rng.normal(0, 0.06))
    flip = -1.0 if rng.random() < 0.5 else 1.0
    affine = np.eye(3)
    affine[:2, :2] = half * rotate @ np.diag([aspect * flip, 1 / aspect])
    affine[:2, 2] = middle
    tilt = np.eye(3)
    tilt[2, :2] = rng.normal(0, 0.03, 2)
    return affine @ tilt, flip * (item.turn_deg - turn_deg)


def _seen_boxes(item: Item, matrix: Array) -> tuple[Array, Array]:
    """Return the boxes as the view shows them, in its pixels, and their states."""
    boxes, state = np.zeros((MAX_BOXES, 4)), np.zeros(MAX_BOXES)
    back = np.linalg.inv(matrix)
    for slot, hull in enumerate(item.hulls[:MAX_BOXES]):
        points = np.column_stack([hull, np.ones(len(hull))]) @ back.T
        points = (points[:, :2] / points[:, 2:] + 1) / 2 * INPUT_PX
        whole = np.concatenate([points.min(0), points.max(0)])
        cut = whole.clip(0, INPUT_PX)
        area = np.prod(whole[2:] - whole[:2])
        shown = np.prod(np.maximum(cut[2:] - cut[:2], 0)) / max(area, 1e-6)
        boxes[slot] = whole if shown > 0.985 else cut
        state[slot] = FOUND if shown > 0.985 else VAGUE if shown > 0.02 else 0
    return boxes, state


def _cards(manner: str, boxes: Array, state: Array, rng: np.random.Generator) -> Array:
    """Draw grey squares, as the masked card leaves them, that touch no motif."""
    cards = np.zeros((MAX_CARDS, 4))
    for slot in range(MAX_CARDS):
        if manner == "zoom" or rng.random() < 0.5:
            continue
        half = rng.uniform(0.08, 0.3)
        middle = rng.uniform(-1, 1, 2)
        at, reach = (middle + 1) / 2 * INPUT_PX, 1.45 * half / 2 * INPUT_PX
        clear = [
            at[0] + reach < b[0]
            or at[0] - reach > b[2]
            or at[1] + reach < b[1]
            or at[1] - reach > b[3]
            for b, s in zip(boxes, state, strict=True)
            if s
        ]
        if all(clear) and np.abs(middle).max() > 0.45:
            cards[slot] = [*middle, half, rng.uniform(0, np.pi / 2)]
    return cards


def render(
    bank: tuple[Tensor, Tensor], batch: Batch, *, colour: bool = True
) -> tuple[Tensor, Tensor]:
    """Warp and recolour a batch.

    Returns
    -------
    pictures
        (B, 3, side, side) float, scaled as the net wants it.
    garment
        (B, 1, side / 4, side / 4): 1 cloth, 0 ground, -1 unknown.
    """
    pictures, masks = bank
    stack = torch.cat([pictures[batch.index], masks[batch.index][..., None]], -1)
    source = stack.permute(0, 3, 1, 2).float() / 255
    place = _grid(batch.to_source, INPUT_PX)
    inside = _inside(place, batch.size)
    folded = _reflected(place, batch.size)
    view = _sample(source, torch.where(batch.reflect[:, None, None, None] > 0, folded, place))
    (a, b), (c, d) = batch.to_source[:, :2, :2].permute(1, 2, 0)
    step = (a * d - b * c).abs().sqrt() * 2 / INPUT_PX
    coarse = _sample(F.avg_pool2d(source, 2), (folded - 0.5) / 2)
    view = torch.where((step > 1.25)[:, None, None, None], coarse, view)
    laid = batch.floor >= 0
    reflect = (batch.reflect > 0)[:, None, None]
    garment = torch.where(inside, view[:, 3], torch.where(reflect & ~laid[:, None, None], 0.5, 0.0))
    shown = _laid_down(view[:, :3], garment, pictures, batch)
    picture = _recolour(shown) if colour else shown
    beyond = _beyond(batch.frame) | (~inside & ~reflect & ~laid[:, None, None])
    grey = _covered(batch.cards) | beyond
    garment = garment * ~_beyond(batch.frame)
    picture = (picture * 255 - 127) / 128
    picture = torch.where(grey[:, None], torch.zeros_like(picture), picture)
    garment = F.avg_pool2d(garment[:, None], 4)
    vague = (garment > 0.25) & (garment < 0.75)
    return picture, torch.where(vague, -torch.ones_like(garment), (garment > 0.5).float())


def _laid_down(view: Tensor, garment: Tensor, pictures: Tensor, batch: Batch) -> Tensor:
    """Lay the garments that are to be moved on their new floors, with a shadow."""
    floors = pictures[batch.floor.clamp(min=0)].permute(0, 3, 1, 2).float() / 255
    size = torch.full((len(view), 2), float(SCENE_PX), device=view.device)
    place = _reflected(_grid(batch.floor_to_source, INPUT_PX), size)
    floor = _sample(floors, place)
    alpha = ((garment[:, None] - 0.5) * 2.5 + 0.3).clamp(0, 1)  # a little inside the mask's edge
    soft = F.avg_pool2d(F.pad(alpha, (6, 2, 7, 1), mode="replicate"), 9, 1)
    depth = 0.6 * torch.rand(len(view), 1, 1, 1, device=view.device)
    moved = floor * (1 - depth * soft) * (1 - alpha) + view * alpha
    # which ones are to be moved is left to the GPU: asking would make it wait for the CPU
    return torch.where((batch.floor >= 0)[:, None, None, None], moved, view)


def _beyond(frame: Tensor) -> Tensor:
    """Return where (B, side, side) a view shows what the photo does not."""
    axis = (torch.arange(INPUT_PX, device=frame.device) + 0.5) * 2 / INPUT_PX - 1
    wide = axis.abs()[None] > frame[:, :1]
    high = axis.abs()[None] > frame[:, 1:]
    return wide[:, None, :] | high[:, :, None]


def _grid(to_source: Tensor, side: int) -> Tensor:
    """Return the source pixel (B, side, side, 2) of each pixel of the view."""
    axis = (torch.arange(side, device=to_source.device) + 0.5) * 2 / side - 1
    v, u = torch.meshgrid(axis, axis, indexing="ij")
    points = torch.stack([u, v, torch.ones_like(u)], -1)
    mapped = torch.einsum("bij,hwj->bhwi", to_source, points)
    return mapped[..., :2] / mapped[..., 2:]


def _inside(place: Tensor, size: Tensor) -> Tensor:
    """Tell which places lie on the source picture."""
    limit = size[:, None, None] - 0.5
    return ((place > -0.5) & (place < limit)).all(-1)


def _reflected(place: Tensor, size: Tensor) -> Tensor:
    """Fold places beyond the source's edges back into it."""
    last = size[:, None, None] - 1
    return last - (place.remainder(2 * last) - last).abs()


def _sample(source: Tensor, place: Tensor) -> Tensor:
    """Sample bilinearly at pixel places, (0, 0) being the first pixel's centre."""
    grid = (2 * place + 1) / source.shape[-1] - 1
    return F.grid_sample(source, grid, mode="bilinear", padding_mode="border", align_corners=False)


def _covered(cards: Tensor) -> Tensor:
    """Return the mask (B, side, side) of the grey squares."""
    axis = (torch.arange(INPUT_PX, device=cards.device) + 0.5) * 2 / INPUT_PX - 1
    v, u = torch.meshgrid(axis, axis, indexing="ij")
    x, y, half, turn = (cards[..., i, None, None] for i in range(4))
    along = (u - x) * torch.cos(turn) + (v - y) * torch.sin(turn)
    across = (v - y) * torch.cos(turn) - (u - x) * torch.sin(turn)
    return ((along.abs() < half) & (across.abs() < half)).any(1)


def _recolour(x: Tensor) -> Tensor:
    """Change light, colour, sharpness and noise, each picture in its own way."""
    count, device = len(x), x.device

    def spread(low: float, high: float, channels: int = 1) -> Tensor:
        return low + (high - low) * torch.rand(count, channels, 1, 1, device=device)

    def sometimes(share: float) -> Tensor:
        return torch.rand(count, 1, 1, 1, device=device) < share

    x = x.clamp(1e-4, 1) ** torch.exp(0.2 * torch.randn(count, 1, 1, 1, device=device))
    x = x * torch.exp(0.07 * torch.randn(count, 3, 1, 1, device=device)) * spread(0.75, 1.2)
    grey = x.mean(1, keepdim=True)
    x = grey + (x - grey) * spread(0.5, 1.35)
    shuffled = x[:, torch.rand(3, device=device).argsort()]
    x = torch.where(sometimes(0.12), shuffled, x)
    axis = torch.linspace(-1, 1, x.shape[-1], device=device)
    x = x * (
        1
        + spread(-0.2, 0.2) * axis[None, None, None]
        + spread(-0.2, 0.2) * axis[None, None, :, None]
    )
    soft = F.avg_pool2d(F.pad(x, (2, 2, 2, 2), mode="replicate"), 3, 1)
    softer = F.avg_pool2d(soft, 3, 1)
    amount = spread(0, 1)
    x = torch.where(sometimes(0.3), x + amount * (softer - x), x)
    x = x + torch.randn_like(x) * spread(0, 0.03) * sometimes(0.7)
    return x.clamp(0, 1)
