"""A shop with a toolpath, its program and a share."""

from __future__ import annotations

from pathlib import Path

import pytest
from delivery_parts import TOOLPATH

from steadyrest.posting import post
from steadyrest.request import Request


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a toolpath, its program, a share, and a state folder of its own."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    (tmp_path / "flat.toolpath.json").write_text(TOOLPATH)
    (tmp_path / "share").mkdir()
    post(Request(tmp_path / "flat.toolpath.json", "rs274ngc", tmp_path / "flat.nc"))
    return tmp_path
