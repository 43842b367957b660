"""Documents name only what is there."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
NAMED = re.compile(r"`((?:src|tests|controllers|templates|demo|examples|docs)/[\w./-]*)`")


@pytest.mark.parametrize("document", ["README.md", "DEVELOPERS.md", "demo/README.md"])
def test_every_path_a_document_names_exists(document: str) -> None:
    named = NAMED.findall((ROOT / document).read_text(encoding="utf-8"))
    missing = [path for path in named if "NAME" not in path and not (ROOT / path).exists()]
    assert [] == missing


def test_the_package_names_the_libraries_that_it_says_why_it_has() -> None:
    project = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    said = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    asked = re.findall(r'^  "([a-z0-9-]+)>=', project, flags=re.MULTILINE)
    assert [] == [name for name in asked if name not in said]
