"""What the documents say is what the program does."""

import re
import runpy
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent


def test_every_message_is_in_the_docs() -> None:
    page = runpy.run_path(str(ROOT / "docs" / "make_messages.py"))["page"]()
    assert (ROOT / "docs" / "messages.md").read_text() == page, "run docs/make_messages.py again"


@pytest.mark.parametrize("document", ["README.md", "DEVELOPERS.md"])
def test_links_lead_somewhere(document: str) -> None:
    text = (ROOT / document).read_text()
    for target in re.findall(r"\]\(([^)#]+)\)", text):
        assert (ROOT / target).exists(), target


def test_ci_runs_what_the_readme_says() -> None:
    readme, script = (ROOT / "README.md").read_text(), (ROOT / ".ci" / "run").read_text()
    for command in ("pip install -e '.[dev]'", "python -m pytest"):
        assert command in readme
        assert command in script
