"""A toolpath in a file, for each test."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from sheet_parts import PART


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "peg.toolpath.json"
    path.write_text(json.dumps(PART))
    return path
