"""Write a trained net as the ONNX file that the package ships, weights as half floats.

    python -m motiffit.training.export NET.npz OUT.onnx

Prints the file's hash, which `motiffit/measure/network.py` checks before it trusts the file.
"""

import argparse
import hashlib
import tempfile
from pathlib import Path

import numpy as np
import onnx
import torch
from onnx import helper, numpy_helper
from torch import Tensor, nn

from motiffit.training.net import INPUT_PX, FinderNet

OUTPUTS = ["has", "cells", "masks", "up"]


def main() -> None:
    """Read the command line and export."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("net", type=Path)
    parser.add_argument("out", type=Path)
    args = parser.parse_args()
    export(read_net(args.net), args.out)
    print(args.out.stat().st_size, hashlib.sha256(args.out.read_bytes()).hexdigest())


def read_net(path: Path) -> FinderNet:
    """Read what `train.save_net` stored."""
    net = FinderNet()
    state = {k: torch.from_numpy(v.astype(np.float32)) for k, v in np.load(path).items()}
    missing, unexpected = net.load_state_dict(state, strict=False)
    if unexpected or any("num_batches" not in name for name in missing):
        raise ValueError(f"{path} does not fit the net: {missing} {unexpected}")
    return net.eval()


class _Tuple(nn.Module):
    """The net with its outputs as a tuple, the form that ONNX knows."""

    def __init__(self, net: FinderNet) -> None:
        super().__init__()
        self.net = net

    def forward(self, x: Tensor) -> tuple[Tensor, Tensor, Tensor, Tensor]:
        """Return has, cells, masks, up."""
        out = self.net(x)
        return out.has[:, None], out.cells, out.masks, out.up


def export(net: FinderNet, path: Path) -> None:
    """Export, then store every large weight as half float with a Cast behind it."""
    with tempfile.TemporaryDirectory() as folder:
        plain = Path(folder) / "plain.onnx"
        example = torch.zeros(1, 3, INPUT_PX, INPUT_PX)
        torch.onnx.export(
            _Tuple(net),
            (example,),
            str(plain),
            input_names=["picture"],
            output_names=OUTPUTS,
            opset_version=17,
            dynamo=False,
        )
        model = onnx.load(str(plain))
    halve(model)
    onnx.checker.check_model(model)
    onnx.save(model, str(path))


def halve(model: onnx.ModelProto) -> None:
    """Replace each float weight of 64 values or more by its half float and a Cast node."""
    graph = model.graph
    casts = []
    for weight in graph.initializer:
        array = numpy_helper.to_array(weight)
        if array.dtype != np.float32 or array.size < 64:
            continue
        name = weight.name
        weight.CopyFrom(numpy_helper.from_array(array.astype(np.float16), f"{name}_half"))
        casts.append(helper.make_node("Cast", [f"{name}_half"], [name], to=onnx.TensorProto.FLOAT))
    nodes = list(graph.node)
    del graph.node[:]
    graph.node.extend([*casts, *nodes])


if __name__ == "__main__":
    main()
