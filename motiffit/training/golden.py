"""Renew finder_net.json: what PyTorch computes from a trained net for the test's picture.

python -m motiffit.training.golden NETS/final/net.npz tests/golden/finder_net.json
"""

import json
import sys
from pathlib import Path

import numpy as np
import torch

from motiffit.training.export import read_net


def main() -> None:
    """Compute a few of the net's outputs and write them."""
    source, target = map(Path, sys.argv[1:])
    net = read_net(source)
    small = np.random.default_rng(7).integers(0, 256, (20, 20, 3), dtype=np.uint8)
    blocks = np.repeat(np.repeat(small, 16, axis=0), 16, axis=1)
    picture = torch.from_numpy((blocks.astype(np.float32) - 127) / 128).permute(2, 0, 1)[None]
    with torch.no_grad():
        out = net(picture)
    some = {
        "has": out.has,
        "cells": out.cells[0, :, 5::15, 7::15],
        "masks": out.masks[0, :, 10::30, 20::30],
        "up": out.up[0, :, 3::8, 5::8],
    }
    rounded = {name: [round(v, 5) for v in part.flatten().tolist()] for name, part in some.items()}
    target.write_text(json.dumps(rounded, indent=1) + "\n")


if __name__ == "__main__":
    main()
