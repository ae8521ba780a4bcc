"""The package's public names, and rules that no import contract can hold."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import motiffit

ROOT = Path(motiffit.__file__).parent


def test_public_names_are_sorted_and_there() -> None:
    assert motiffit.__all__ == sorted(motiffit.__all__)
    for name in motiffit.__all__:
        assert getattr(motiffit, name).__name__ == name


def test_other_names_are_not() -> None:
    with pytest.raises(AttributeError, match="nothing_such"):
        _ = motiffit.nothing_such


def test_nobody_imports_the_package_root() -> None:
    for path in ROOT.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text())):
            roots = (
                [alias.name for alias in node.names]
                if isinstance(node, ast.Import)
                else [node.module]
                if isinstance(node, ast.ImportFrom)
                else []
            )
            assert "motiffit" not in roots, path


def test_the_package_is_imported_without_its_libraries() -> None:
    code = "import motiffit, sys; print([m for m in ('cv2', 'numpy', 'PIL') if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
