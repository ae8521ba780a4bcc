"""Train the finder.

    python -m motiffit.training.train PACK OUT --minutes 9              # on everything
    python -m motiffit.training.train PACK OUT --fold 0 --minutes 8     # without fold 0's homes

PACK is what `materials` wrote. OUT receives ``net.npz`` (half floats, the running average of the
weights; written anew every thousand steps, so that a machine taken away early leaves one) and
``log.json``. The schedule is set by time: the learning rate falls to zero as the minutes run out.
"""

import argparse
import copy
import io
import json
import math
import os
import time
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import torch
from torch import Tensor, nn

from motiffit.files import write_whole
from motiffit.training.augment import Batch, Sampler, render
from motiffit.training.bank import Bank, Item, build_bank
from motiffit.training.losses import total_loss
from motiffit.training.net import FinderNet, Outputs, load_encoder
from motiffit.training.validation import held_back_figures

FOLDS = 6
BATCH = 64
PEAK_RATE = 1.2e-3
ENCODER_SHARE = 0.5  # of the peak rate: the encoder starts from ImageNet weights
WARM_STEPS = 200
WEIGHT_DECAY = 0.02
AVERAGE = 0.999
SCENES = 4000
LOG_STEPS = 200
SAVE_STEPS = 1000


def main() -> None:
    """Read the command line and train one net."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("pack", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--bank", type=Path, help="where pictures wait for several trainings")
    parser.add_argument("--make-bank", action="store_true", help="only fill --bank")
    parser.add_argument("--fold", type=int, nargs="*", default=[], help="hold back their homes")
    parser.add_argument("--minutes", type=float, default=9.0)
    parser.add_argument("--most-steps", type=int, default=1_000_000)
    parser.add_argument("--scenes", type=int, default=SCENES)
    parser.add_argument("--batch", type=int, default=BATCH)
    parser.add_argument("--seed", type=int, default=0)
    args = parser.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    if args.bank is not None and not args.make_bank:
        bank = Bank.load(args.bank)
    else:
        bank = build_bank(args.pack, args.scenes, os.cpu_count() or 1)
    if args.make_bank:
        bank.save(args.bank)
        return
    held_back = {home for fold in args.fold for home in homes_of_fold(bank.items, fold)}
    torch.manual_seed(args.seed)
    torch.backends.cudnn.benchmark = True
    sampler = Sampler(bank.items, held_back, args.batch, args.seed)
    net, log = train(bank, sampler, args)
    save_net(net, args.out / "net.npz")
    figures = held_back_figures(net, bank, held_back) if held_back else {}
    print(args.out, figures, flush=True)
    told = {"held_back": sorted(held_back), "figures": figures, "log": log}
    (args.out / "log.json").write_text(json.dumps(told))


def homes_of_fold(items: list[Item], fold: int) -> set[str]:
    """Return the homes of one fold: dealt out by their number of motif photos, largest first."""
    counts: dict[str, list[int]] = {}
    for item in items:
        if item.source == "photo":
            mine = counts.setdefault(item.homes[0], [0, 0, 0])
            mine[0] += item.child and item.has
            mine[1] += item.has
            mine[2] += 1
    order = sorted(counts, key=lambda home: (counts[home], home), reverse=True)
    loads = np.zeros((FOLDS, 3))
    total = np.maximum(np.sum(list(counts.values()), 0), 1)
    folds: list[set[str]] = [set() for _ in range(FOLDS)]
    for home in order:
        lightest = int((loads / total).sum(1).argmin())
        loads[lightest] += counts[home]
        folds[lightest].add(home)
    return folds[fold]


def train(bank: Bank, sampler: Sampler, args: argparse.Namespace) -> tuple[FinderNet, list[object]]:
    """Run the schedule and return the averaged net with a log of losses."""
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    stored = torch.from_numpy(bank.pictures).to(device), torch.from_numpy(bank.masks).to(device)
    net = FinderNet()
    load_encoder(net, args.pack / "encoder.npz")
    net = net.to(device, memory_format=torch.channels_last)
    average = copy.deepcopy(net).requires_grad_(False)
    followed = _floating(average), _floating(net)
    on_gpu = device.type == "cuda"
    optimiser = torch.optim.AdamW(
        _groups(net), weight_decay=WEIGHT_DECAY, fused=on_gpu, capturable=on_gpu
    )
    for group in optimiser.param_groups:
        group["lr"] = torch.zeros((), device=device)  # set anew before each step

    def step_once(batch: Batch) -> dict[str, Tensor]:
        picture, garment = render(stored, batch)
        with _half(device.type):
            out = net(picture.contiguous(memory_format=torch.channels_last))
        loss, parts = total_loss(Outputs(*(v.float() for v in out)), garment, batch)
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        nn.utils.clip_grad_norm_(net.parameters(), 5.0)
        optimiser.step()
        return parts

    batches = _ahead(sampler, device)
    run = Recorded(step_once, next(batches)) if on_gpu else step_once
    log, begin = [], time.monotonic()
    for step, batch in enumerate(batches):
        done = max((time.monotonic() - begin) / (60 * args.minutes), step / args.most_steps)
        if done >= 1:
            break
        for group in optimiser.param_groups:
            group["lr"].fill_(_rate(step, done) * group["share"])
        parts = run(batch)
        torch._foreach_lerp_(*followed, 1 - min(AVERAGE, (1 + step) / (10 + step)))
        if (step + 1) % LOG_STEPS == 0:
            figures = {k: round(v.item(), 4) for k, v in parts.items()}
            log.append({"step": step + 1, "seconds": round(time.monotonic() - begin), **figures})
            print(args.out.name, log[-1], flush=True)
        if (step + 1) % SAVE_STEPS == 0:
            save_net(average, args.out / "net.npz")
    return average, log


def _half(device: str) -> torch.autocast:
    """Compute in bfloat16 on a GPU; casts are not kept, so that they can be recorded."""
    return torch.autocast(device, torch.bfloat16, enabled=device == "cuda", cache_enabled=False)


class Recorded:
    """A whole training step as one CUDA graph: its kernels take longer to launch than to run.

    Recording takes three steps first; with a rate of 0 they leave the weights as they are.
    """

    def __init__(self, step_once: Callable[[Batch], dict[str, Tensor]], batch: Batch) -> None:
        self._batch = batch
        beside = torch.cuda.Stream()
        beside.wait_stream(torch.cuda.current_stream())
        with torch.cuda.stream(beside):
            for _ in range(3):
                step_once(batch)
        torch.cuda.current_stream().wait_stream(beside)
        self._graph = torch.cuda.CUDAGraph()
        with torch.cuda.graph(self._graph):
            self._parts = step_once(batch)
        self._last = torch.cuda.Event()

    def __call__(self, batch: Batch) -> dict[str, Tensor]:
        """Take one step; the one before it is over by then, so that the clock sees real steps."""
        for name, value in batch.__dict__.items():
            getattr(self._batch, name).copy_(value)
        self._last.synchronize()
        self._graph.replay()
        self._last.record()
        return self._parts


def _groups(net: FinderNet) -> list[dict[str, object]]:
    """Return parameter groups: the encoder learns slower; norms and biases do not decay."""
    groups: dict[tuple[bool, bool], list[nn.Parameter]] = {}
    for name, parameter in net.named_parameters():
        key = name.startswith("encoder."), parameter.ndim > 1
        groups.setdefault(key, []).append(parameter)
    return [
        {
            "params": p,
            "share": ENCODER_SHARE if encoder else 1.0,
            **({} if decays else {"weight_decay": 0.0}),
        }
        for (encoder, decays), p in groups.items()
    ]


def _rate(step: int, done: float) -> float:
    """Warm up by steps, then fall by a cosine of the share of time that is gone."""
    return PEAK_RATE * min(1.0, (step + 1) / WARM_STEPS) * (0.5 + 0.5 * math.cos(math.pi * done))


def _ahead(sampler: Sampler, device: torch.device) -> Iterator[Batch]:
    """Give batches that another thread draws in advance."""
    with ThreadPoolExecutor(1) as pool:
        waiting = deque(pool.submit(sampler.draw) for _ in range(6))
        while True:
            batch = waiting.popleft().result()
            waiting.append(pool.submit(sampler.draw))
            yield batch.to(device)


def _floating(net: FinderNet) -> list[Tensor]:
    """Return all weights and norms, without their gradients."""
    return [v.detach() for v in net.state_dict().values() if v.dtype.is_floating_point]


def save_net(net: FinderNet, path: Path) -> None:
    """Store all weights as half floats."""
    state = {k: v.cpu().numpy() for k, v in net.state_dict().items() if "num_batches" not in k}
    packed = io.BytesIO()
    np.savez_compressed(packed, **{k: v.astype(np.float16) for k, v in state.items()})
    write_whole(path, packed.getvalue())


if __name__ == "__main__":
    main()
