"""Make the sample photos again, or any number of random ones like them.

    python sample_images/make_samples.py                       # the samples, into this folder
    python sample_images/make_samples.py --only bib-whale.jpg
    python sample_images/make_samples.py --random 40 --seed 7 OUT

Everything is seeded: the same command makes the same photos. The HEIC sample needs an encoder
(`pip install pillow-heif`); the others need only what motiffit itself needs.
"""

import argparse
import json
from pathlib import Path

from maker.catalogue import RECIPES
from maker.files import write_photo
from maker.recipe import Recipe, make

HERE = Path(__file__).parent


def main() -> None:
    """Read the command line and make photos."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("out", type=Path, nargs="?", default=HERE)
    parser.add_argument("--only", action="append", metavar="NAME", help="make this sample only")
    parser.add_argument("--random", type=int, metavar="N", help="make N random photos instead")
    parser.add_argument("--seed", type=int, default=1, help="first seed of the random photos")
    args = parser.parse_args()
    recipes = [recipe for recipe in RECIPES if not args.only or recipe.name in args.only]
    args.out.mkdir(parents=True, exist_ok=True)
    make_all(recipes, args.out)


def make_all(recipes: list[Recipe], out: Path) -> None:
    """Make photos and write or renew their truth.json."""
    listing = out / "truth.json"
    truth = (
        {row["image"]: row for row in json.loads(listing.read_text())} if listing.exists() else {}
    )
    for number, recipe in enumerate(recipes):
        picture, truth[recipe.name] = make(recipe)
        focal = recipe.setting.camera.focal_35mm if recipe.focal_in_exif else None
        write_photo(
            picture,
            out / recipe.name,
            number=number,
            focal_35mm=focal,
            stored_turned=recipe.stored_turned,
        )
        listing.write_text(json.dumps(list(truth.values()), indent=1) + "\n")
        print(recipe.name)


if __name__ == "__main__":
    main()
