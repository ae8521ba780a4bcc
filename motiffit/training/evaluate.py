"""Measure the finder on composed photos, each with the net that knew no photo of its home.

    python -m motiffit.training.evaluate COMPOSED GARMENTS NETS --out figures.json

COMPOSED holds photos and ``truth.json`` as the bench's ``compose.py`` writes them; GARMENTS holds
``motifs.json``; NETS holds, for each fold K, ``foldK.onnx`` and ``foldK/log.json`` (which names the
homes held back). Photos of homes that no fold held back are left out.
"""

import argparse
import json
from collections import Counter
from collections.abc import Callable, Iterable
from functools import lru_cache
from itertools import pairwise
from multiprocessing import Pool
from pathlib import Path
from typing import Any
from unittest.mock import patch

import cv2
import numpy as np

from motiffit.measure import network
from motiffit.measure.report import digest_to_mm
from motiffit.measure.window import fit_window
from motiffit.record import Motif, Sides, Sizing
from motiffit.settings import Settings
from motiffit.sizing import size_photo

Row = dict[str, Any]

FINISHED_MM = [25.4 * n for n in range(3, 10)]
CLEARANCE_MM = 25.4 / 8
EXACT_MM = 0.3  # sd of a motif that counts as exactly known
SLACK_MM = 2.0  # the truth itself is no better


def main() -> None:
    """Read the command line, measure, print."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("composed", type=Path)
    parser.add_argument("garments", type=Path)
    parser.add_argument("nets", type=Path)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--processes", type=int, default=2)
    args = parser.parse_args()
    records = {r["image"]: r for r in json.loads((args.garments / "motifs.json").read_text())}
    net_of = _nets(args.nets)
    truths = json.loads((args.composed / "truth.json").read_text())
    jobs = [
        (args.composed / t["image"], t, record, net_of[record["home"]])
        for t in truths
        if (record := records[Path(t["image"]).stem])["home"] in net_of
    ]
    with Pool(args.processes) as pool:
        rows = pool.map(measure, jobs, chunksize=4)
    args.out.write_text(json.dumps(rows))
    for line in report(rows):
        print(line)


def _nets(folder: Path) -> dict[str, Path]:
    """Return for each home the net that never saw it."""
    found = {}
    for log in sorted(folder.glob("fold*/log.json")):
        for home in json.loads(log.read_text())["held_back"]:
            found[home] = folder / f"{log.parent.name}.onnx"
    return found


@lru_cache(maxsize=8)
def _read(path: Path) -> network.Network:
    """Read one fold's net."""
    return network.Network(path.read_bytes())


def measure(job: tuple[Path, Row, Row, Path]) -> Row:
    """Size one photo and compare with its truth."""
    photo, truth, record, net = job
    cv2.setNumThreads(1)
    with patch.object(network, "shipped_network", lambda: _read(net)):
        sizing = size_photo(photo, Settings(side_mm=truth["side_mm"]))
    row: Row = {
        "image": truth["image"],
        **{k: record[k] for k in ("kind", "wearer", "technique", "contrast")},
        "outcome": sizing.outcome,
        "messages": [message.code for message in sizing.messages],
        "true_mm": [max(m["width_mm"], m["height_mm"]) for m in truth["motifs"]],
        "can_be_sized": record["kind"] == "single" and _can_be_sized(truth["motifs"][0], sizing),
        "garment_off_mm": _garment_off(truth["garment_px"], sizing),
    }
    if not truth["motifs"] or not sizing.motifs:
        return row
    mine = sizing.motifs[0]
    overlaps = [_iou(mine.corners_px, m["corners_px"]) for m in truth["motifs"]]
    best = truth["motifs"][int(np.argmax(overlaps))]
    return {
        **row,
        "iou": max(overlaps),
        "trust": mine.trust,
        "error_mm": [mine.width_mm - best["width_mm"], mine.height_mm - best["height_mm"]],
        "sd_mm": [mine.sd_width_mm, mine.sd_height_mm],
        "window": _verdict(sizing.window, best),
    }


def _can_be_sized(motif: Row, sizing: Sizing) -> bool:
    """Tell whether the true motif, exactly known, would get a size without a warning.

    The cloth is the outline found: no truth of the garment is finer.
    """
    if sizing.plane is None or sizing.garment is None:
        return False
    corners = digest_to_mm(sizing.plane, np.asarray(motif["corners_px"], float))
    across = corners[1] - corners[0]
    exact = Sides(top=EXACT_MM, right=EXACT_MM, bottom=EXACT_MM, left=EXACT_MM)
    known = Motif(
        corners_px=(),
        centre_mm=(float(corners[:, 0].mean()), float(corners[:, 1].mean())),
        width_mm=motif["width_mm"],
        height_mm=motif["height_mm"],
        angle_deg=float(np.degrees(np.arctan2(across[1], across[0]))),
        sd_width_mm=EXACT_MM,
        sd_height_mm=EXACT_MM,
        sd_edges_mm=exact,
        trust=1.0,
    )
    outline = digest_to_mm(sizing.plane, np.asarray(sizing.garment.outline_px))
    fit = fit_window(known, outline, Settings())
    return all(message.severity == "note" for message in fit.messages)


def _garment_off(garment_px: Any, sizing: Sizing) -> float | None:
    """Return how far the outline's box lies from the labelled one, mm, at the worst of its edges.

    None where no garment was found.
    """
    if sizing.plane is None or sizing.garment is None:
        return None
    corners = digest_to_mm(sizing.plane, np.asarray(garment_px, float))
    outline = digest_to_mm(sizing.plane, np.asarray(sizing.garment.outline_px))
    across = corners[1] - corners[0] + corners[2] - corners[3]
    along = np.array([across, (-across[1], across[0])]).T / np.hypot(*across)
    # a label's corners are its edges' ends: the view's tilt hardly bends them
    edges = [(corners[i] + corners[(i + 1) % 4]) / 2 @ along for i in range(4)]
    top, right, low, left = edges
    true_low, true_high = np.array([left[0], top[1]]), np.array([right[0], low[1]])
    mine = outline @ along
    off = np.abs([mine.min(axis=0) - true_low, mine.max(axis=0) - true_high])
    return float(off.max())


def _iou(a: Any, b: Any) -> float:
    """Return the overlap of two convex polygons."""
    first, second = (cv2.convexHull(np.float32(p)) for p in (a, b))
    cross = cv2.intersectConvexConvex(first, second)[0]
    return float(cross / (cv2.contourArea(first) + cv2.contourArea(second) - cross))


def _verdict(window: Any, motif: Row) -> str:
    """Say how the window does for the true motif: right, tight, unsafe, or how much too large."""
    if window is None:
        return "none"
    seam = np.float32(window.seam_corners_px)
    px_per_mm = np.sqrt(cv2.contourArea(seam)) / window.finished_mm
    inside = [cv2.pointPolygonTest(seam, tuple(map(float, p)), True) for p in motif["corners_px"]]
    if min(inside) / px_per_mm < -SLACK_MM:
        return "unsafe"
    side = max(motif["width_mm"], motif["height_mm"])
    low, high = _smallest(side - SLACK_MM), _smallest(side + SLACK_MM)
    if low - 1 < window.finished_mm < high + 1:
        return "right"
    if window.finished_mm < low:
        return "tight"
    return "one-up" if window.finished_mm - high < 26 else "larger"


def _smallest(side_mm: float) -> float:
    """Return the smallest finished size that holds a motif with the clearance; inf if none."""
    need = side_mm + 2 * CLEARANCE_MM
    return next((size for size in FINISHED_MM if size >= need), float("inf"))


def report(rows: list[Row]) -> Iterable[str]:
    """Give the lines of the report."""
    framed = [row for row in rows if row["kind"] in ("single", "several")]
    bare = [row for row in rows if row["kind"] in ("plain", "allover")]
    right = sum(row["outcome"] in ("sized", "check") for row in framed)
    right += sum(row["outcome"] == "no-motif" for row in bare)
    yield f"photos {len(rows)}, with a motif {len(framed)}"
    yield f"with / without told apart: {right / len(rows):.3f}"
    yield from _by(framed, "wearer", lambda row: row["wearer"])
    yield from _by(framed, "technique", lambda row: row["technique"])
    yield from _by(framed, "contrast", lambda row: row["contrast"])
    thirds = np.quantile([row["true_mm"][0] for row in framed], [1 / 3, 2 / 3])
    yield f"size thirds end at {thirds.round()} mm"
    yield from _by(framed, "third", lambda row: str(np.searchsorted(thirds, row["true_mm"][0])))
    yield _line("all", framed)
    yield from _safety(framed)
    yield _garments(framed)
    yield from _reliability([row for row in framed if "trust" in row])


def _by(rows: list[Row], name: str, key: Callable[[Row], str]) -> Iterable[str]:
    """Give one line for each group."""
    for value in sorted({key(row) for row in rows}):
        yield _line(f"{name} {value}", [row for row in rows if key(row) == value])


def _line(name: str, rows: list[Row]) -> str:
    """Give the shares of boxes by overlap."""
    overlap = np.array([row.get("iou", 0.0) for row in rows])
    shares = ", ".join(f">={level} {np.mean(overlap >= level):.3f}" for level in (0.5, 0.8, 0.9))
    return f"{name:22} n {len(rows):4}  IoU {shares}"


def _safety(framed: list[Row]) -> Iterable[str]:
    """Give what became of the windows, and how often the intervals hold."""
    sized = Counter(
        row["window"] for row in framed if row["outcome"] == "sized" and "window" in row
    )
    count = max(sum(sized.values()), 1)
    sizable = sum(_smallest(row["true_mm"][0]) < np.inf for row in framed)
    yield f"sized {count} of {sizable} that can be: {count / max(sizable, 1):.3f}; " + ", ".join(
        f"{verdict} {n / count:.3f}" for verdict, n in sized.most_common()
    )
    able = [row for row in framed if row["can_be_sized"]]
    share = np.mean([row["outcome"] == "sized" for row in able] or [0])
    yield f"of {len(able)} that also are single and have the cloth: {share:.3f}"
    reasons = Counter(
        code for row in framed if row["outcome"] == "check" for code in row["messages"]
    )
    yield f"reasons to check: {dict(reasons.most_common(8))}"
    found = [row for row in framed if row.get("iou", 0) > 0.5]
    error = np.abs([row["error_mm"] for row in found])
    holds = error <= 1.96 * np.array([row["sd_mm"] for row in found])
    worst = error.max(axis=1)
    yield f"95 % intervals hold: {holds.mean():.3f}"
    yield f"size error mm: median {np.median(worst):.1f}, 95th {np.percentile(worst, 95):.1f}"


def _garments(framed: list[Row]) -> str:
    """Give how far the outlines' boxes lie from the labelled ones."""
    off = np.array([row["garment_off_mm"] for row in framed if row["garment_off_mm"] is not None])
    levels = ", ".join(f"{p} % {np.percentile(off, p):.0f}" for p in (50, 75, 90, 95))
    return f"garment's box off mm: {levels}; above 60 mm {np.mean(off > 60):.3f}"


def _reliability(rows: list[Row]) -> Iterable[str]:
    """Give, for each band of trust, the share of boxes that are right (IoU >= 0.8)."""
    edges = [0.0, 0.3, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0]
    for low, high in pairwise(edges):
        band = [row for row in rows if low <= row["trust"] < high]
        if band:
            share = np.mean([row["iou"] >= 0.8 for row in band])
            mean = np.mean([row["trust"] for row in band])
            yield f"trust {low:.1f}-{high:.1f}: n {len(band):3}  mean {mean:.2f}  right {share:.2f}"


if __name__ == "__main__":
    main()
