"""What pages of one file share: templates, and script and style put inside with their hashes."""

from base64 import b64encode
from functools import cache
from hashlib import sha256
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from motiffit.show.words import unbroken

__all__ = ["inline", "templates"]


@cache
def templates() -> Environment:
    """Return the templates, everything escaped; ``unbroken`` keeps a length on one line."""
    environment = Environment(
        loader=PackageLoader("motiffit.show"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["unbroken"] = unbroken
    return environment


def inline(kind: str, file: str) -> dict[str, Any]:
    """Return one of our own files and its hash, as a content security policy wants them.

    Parameters
    ----------
    kind
        What the template calls it, for instance ``style``; its hash is ``style_hash``.
    file
        Its name among the templates.
    """
    text = templates().get_template(file).render()
    digest = b64encode(sha256(text.encode()).digest()).decode()
    return {kind: Markup(text), f"{kind}_hash": f"sha256-{digest}"}
