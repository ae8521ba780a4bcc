"""Make the sample photos again, or any number of random ones like them.

    python sample_images/make_samples.py                       # the samples, into this folder
    python sample_images/make_samples.py --only bib-whale.jpg
    python sample_images/make_samples.py --random 40 --seed 7 OUT

Everything is seeded: the same command makes the same photos. The HEIC sample needs an encoder
(`pip install pillow-heif`); the others need only what motiffit itself needs.
"""

import argparse
import json
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

from maker.catalogue import RECIPES
from maker.chance import chance
from maker.files import write_photo
from maker.recipe import Recipe, make

HERE = Path(__file__).parent


def main() -> None:
    """Read the command line and make photos."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("out", type=Path, nargs="?", default=HERE)
    parser.add_argument("--only", action="append", metavar="NAME", help="make this sample only")
    parser.add_argument("--random", type=int, metavar="N", help="make N random photos instead")
    parser.add_argument("--seed", type=int, default=1, help="seed of the first random photo")
    parser.add_argument("--jobs", type=int, default=1, help="photos made at the same time")
    args = parser.parse_args()
    if args.random and args.out == HERE:
        parser.error("random photos need a folder of their own: name it last")
    args.out.mkdir(parents=True, exist_ok=True)
    jobs: list[tuple[int, str | None, Path]]
    if args.random:
        jobs = [(number, None, args.out) for number in range(args.seed, args.seed + args.random)]
    else:
        names = {recipe.name for recipe in RECIPES}
        if unknown := set(args.only or ()) - names:
            parser.error(f"no such sample: {', '.join(sorted(unknown))}")
        jobs = [
            (number, recipe.name, args.out)
            for number, recipe in enumerate(RECIPES)
            if not args.only or recipe.name in args.only
        ]
    make_all(jobs, args.out / "truth.json", args.jobs)


def make_all(jobs: list[tuple[int, str | None, Path]], listing: Path, workers: int) -> None:
    """Make photos and write or renew their truth.json."""
    rows = json.loads(listing.read_text()) if listing.exists() else []
    truth = {row["image"]: row for row in rows}
    with ProcessPoolExecutor(workers) as pool:
        for row in pool.map(make_one, jobs):
            truth[row["image"]] = row
            print(row["image"], flush=True)
            listing.write_text(json.dumps(list(truth.values()), indent=1) + "\n")


def make_one(job: tuple[int, str | None, Path]) -> dict[str, Any]:
    """Make one photo: a sample by name, or the random one of this number."""
    number, name, out = job
    recipe: Recipe = chance(number) if name is None else RECIPES[number]
    picture, truth = make(recipe)
    focal = recipe.setting.camera.focal_35mm if recipe.focal_in_exif else None
    write_photo(
        picture,
        out / recipe.name,
        number=number,
        focal_35mm=focal,
        stored_turned=recipe.stored_turned,
    )
    return truth


if __name__ == "__main__":
    main()
