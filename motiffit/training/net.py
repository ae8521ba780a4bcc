"""The finder's net: an EfficientNet-Lite1 encoder, a U-Net decoder and small heads.

The encoder's first weights were trained with activations clipped at 6; here they are not clipped,
because OpenCV joins a plain ReLU to the convolution before it and takes a third less time.
"""

from pathlib import Path
from typing import NamedTuple

import numpy as np
import torch
from torch import Tensor, nn
from torch.nn import functional as F

__all__ = ["INPUT_PX", "REACH", "FinderNet", "Outputs", "load_encoder"]

INPUT_PX = 320
DROPPED = 0.3  # of what tells a motif from none: that is learnt by heart first
SKIPPED = 0.15  # of pictures pass the deepest block by, in proportion fewer the ones before it
REACH = 0.1  # an edge distance is exp(output) * REACH * INPUT_PX pixels

# EfficientNet-Lite1 (Apache-2.0): expansion, channels, repeats, stride, kernel of each stage.
STAGES = (
    (1, 16, 1, 1, 3),
    (6, 24, 3, 2, 3),
    (6, 40, 3, 2, 5),
    (6, 80, 4, 2, 3),
    (6, 112, 4, 1, 5),
    (6, 192, 5, 2, 5),
    (6, 320, 1, 1, 3),
)
TAPS = (3, 6, 14, 20)  # the last block at stride 4, 8, 16 and 32


class Outputs(NamedTuple):
    """What the net says of a batch; `cells` at stride 8, `masks` at stride 4, `up` at stride 16."""

    has: Tensor  # (B,) logit: a motif is in view
    cells: Tensor  # (B, 9, h, w): score logit, 4 log distances (l, t, r, b), 4 log scales
    masks: Tensor  # (B, 2, h, w): logits of garment and of motif boxes
    up: Tensor  # (B, 2, h, w): cosine and sine of the garment's turn, not normalised


class Block(nn.Module):
    """An inverted bottleneck without squeeze-excitation, as in EfficientNet-Lite."""

    def __init__(
        self,
        inside: int,
        outside: int,
        expand: int,
        stride: int,
        kernel: int,
        skipped: float,
    ) -> None:
        super().__init__()
        wide = inside * expand
        self.skipped = skipped
        self.skip = stride == 1 and inside == outside
        layers: list[nn.Module] = []
        if expand > 1:
            layers += [nn.Conv2d(inside, wide, 1, bias=False), _norm(wide), nn.ReLU()]
        layers += [
            nn.Conv2d(wide, wide, kernel, stride, kernel // 2, groups=wide, bias=False),
            _norm(wide),
            nn.ReLU(),
            nn.Conv2d(wide, outside, 1, bias=False),
            _norm(outside),
        ]
        self.layers = nn.Sequential(*layers)

    def forward(self, x: Tensor) -> Tensor:
        """Return the block's output."""
        y: Tensor = self.layers(x)
        if not self.skip:
            return y
        if self.training:  # stochastic depth (Huang et al. 2016)
            kept = torch.rand(len(y), 1, 1, 1, device=y.device) >= self.skipped
            y = y * (kept / (1 - self.skipped)).to(y.dtype)
        return x + y


class Encoder(nn.Module):
    """EfficientNet-Lite1 up to its last stage, tapped at strides 4, 8, 16 and 32."""

    def __init__(self) -> None:
        super().__init__()
        self.stem = nn.Sequential(nn.Conv2d(3, 32, 3, 2, 1, bias=False), _norm(32), nn.ReLU())
        blocks: list[Block] = []
        inside, count = 32, sum(stage[2] for stage in STAGES)
        for expand, channels, repeats, stride, kernel in STAGES:
            for index in range(repeats):
                step = stride if index == 0 else 1
                skipped = SKIPPED * len(blocks) / count
                blocks.append(Block(inside, channels, expand, step, kernel, skipped))
                inside = channels
        self.blocks = nn.ModuleList(blocks)

    def forward(self, x: Tensor) -> list[Tensor]:
        """Return the four taps, finest first."""
        x, taps = self.stem(x), []
        for index, block in enumerate(self.blocks):
            x = block(x)
            if index in TAPS:
                taps.append(x)
        return taps


class FinderNet(nn.Module):
    """Finds motif boxes, the garment and its upright direction in one square picture."""

    def __init__(self) -> None:
        super().__init__()
        self.encoder = Encoder()
        self.top = _conv1(320, 128)
        self.up16 = Merge(128, 112, 128)
        self.up8 = Merge(128, 40, 96)
        self.up4 = Merge(96, 24, 48)
        self.cells = nn.Sequential(_separable(96, 96), nn.Conv2d(96, 9, 1))
        self.masks = nn.Conv2d(48, 2, 1)
        self.up = nn.Sequential(_separable(128, 64), nn.Conv2d(64, 2, 1))
        self.has = nn.Linear(320 + 96, 1)
        nn.init.constant_(self.cells[-1].bias[:1], -4.0)
        nn.init.constant_(self.cells[-1].bias[5:], 2.5)

    def forward(self, x: Tensor) -> Outputs:
        """Return all outputs for pictures (B, 3, side, side) scaled by (x - 127) / 128."""
        f4, f8, f16, f32 = self.encoder(x)
        d16 = self.up16(self.top(f32), f16)
        d8 = self.up8(d16, f8)
        d4 = self.up4(d8, f4)
        pooled = torch.cat([f32.mean((2, 3)), d8.amax((2, 3))], 1)
        pooled = F.dropout(pooled, DROPPED, self.training)
        return Outputs(self.has(pooled)[:, 0], self.cells(d8), self.masks(d4), self.up(d16))


class Merge(nn.Module):
    """One level of the decoder: enlarge, join the encoder's tap, two separable convolutions."""

    def __init__(self, below: int, tap: int, outside: int) -> None:
        super().__init__()
        self.layers = nn.Sequential(
            _conv1(below + tap, outside), _separable(outside, outside), _separable(outside, outside)
        )

    def forward(self, below: Tensor, tap: Tensor) -> Tensor:
        """Return the finer map."""
        wide = F.interpolate(below, scale_factor=2.0, mode="nearest")
        merged: Tensor = self.layers(torch.cat([wide, tap], 1))
        return merged


def load_encoder(net: FinderNet, path: Path) -> None:
    """Fill the encoder with the ImageNet weights stored by `materials` (in order of definition)."""
    stored = [torch.from_numpy(a.astype(np.float32)) for a in np.load(path).values()]
    own = {k: v for k, v in net.encoder.state_dict().items() if "num_batches" not in k}
    if len(own) != len(stored):
        raise ValueError(f"{path} holds {len(stored)} arrays, the encoder has {len(own)}")
    net.encoder.load_state_dict(dict(zip(own, stored, strict=True)), strict=False)


def _norm(channels: int) -> nn.BatchNorm2d:
    """Batch norm as EfficientNet uses it."""
    return nn.BatchNorm2d(channels, eps=1e-3, momentum=0.03)


def _conv1(inside: int, outside: int) -> nn.Sequential:
    """Make a pointwise convolution with norm and ReLU."""
    return nn.Sequential(nn.Conv2d(inside, outside, 1, bias=False), _norm(outside), nn.ReLU())


def _separable(inside: int, outside: int) -> nn.Sequential:
    """Make a 5 x 5 depthwise and a pointwise convolution, each with its norm."""
    return nn.Sequential(
        nn.Conv2d(inside, inside, 5, padding=2, groups=inside, bias=False),
        _norm(inside),
        *_conv1(inside, outside),
    )
