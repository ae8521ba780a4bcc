"""Papers, floors and patterns that several samples share."""

import numpy as np

from maker import motifs
from maker.garments import zip_path
from maker.layer import Layer
from maker.outlines import Path
from maker.paper import Paper
from maker.printing import scatter, sew_zip, stripe
from maker.props import tape_measure
from maker.surfaces import planks

INCH_CARD = Paper()
METRIC_CARD = Paper(side_mm=100.0, label="100 mm")
NOTE = Paper(kind="square", side_mm=76.2, colour=(236, 212, 108), curl_mm=1.2)
OAK = planks((198, 172, 140), (152, 122, 92))
WALNUT = planks((132, 98, 72), (84, 58, 42), plank_mm=128, angle_deg=-86)
TAPE = tape_measure(
    [(-260, -14), (-160, 8), (-60, 12), (30, -14), (130, 4), (250, -16)],
    (236, 206, 96),
    first_cm=22,
)


def small_prints(layer: Layer, outline: Path, rng: np.random.Generator) -> None:
    """Print whales, boats and snails all over the cloth."""
    pictures = [motifs.whale(), motifs.boat(), motifs.snail()]
    scatter(layer, pictures, rng, pitch_mm=46, size_mm=27, ground=layer.ground)


def breton(layer: Layer, outline: Path, rng: np.random.Generator) -> None:
    """Knit navy stripes."""
    stripe(layer, layer.ground, (54, 66, 98), pitch_mm=19, share=0.34, rng=rng)


def front_zip(layer: Layer, outline: Path, rng: np.random.Generator) -> None:
    """Sew in the sleepsuit's zip, through whatever is printed there."""
    sew_zip(layer, zip_path(1.0), (236, 232, 222), rng)
