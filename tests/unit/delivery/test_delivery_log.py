"""The log of deliveries, and what is kept beside it until a line is there."""

from __future__ import annotations

import hashlib
import json
import os
from datetime import UTC, datetime
from pathlib import Path

import pytest

from steadyrest.delivery.log import log_line
from steadyrest.profile import own_folder


def test_a_value_that_would_break_the_line_of_the_log_stands_in_quotes() -> None:
    when = datetime(2026, 11, 24, 23, 20, 48, tzinfo=UTC)
    assert '2026-11-24T23:20:48+00:00 to="/mnt/a b\\nc"' == log_line(when, {"to": "/mnt/a b\nc"})


@pytest.mark.parametrize("stated", ["", "relative/path"])
def test_the_state_folder_is_that_of_the_xdg_specification(stated: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", stated)
    monkeypatch.setenv("HOME", str(tmp_path))
    assert tmp_path / ".local" / "state" / "steadyrest" == own_folder("state")


def test_a_delivery_that_died_before_it_was_logged_is_told_by_the_next(tmp_path: Path) -> None:
    from steadyrest.delivery.log import add, begin, broken_off

    log, target, other = tmp_path / "deliveries.log", tmp_path / "PART.NC", tmp_path / "OTHER.NC"
    add(log, "the first line")
    target.write_bytes(b"M2\n")
    digest = hashlib.sha256(b"M2\n").hexdigest()
    running = begin(log, "2026-11-28T07:00:00+00:00 digest=1", target, digest)
    assert () == broken_off(log), "one that is still under way is left alone"
    running.done()
    for place in (target, other):
        dead = begin(log, f"2026-11-28T07:00:00+00:00 to={place.name}", place, digest)
        os.close(dead._held)  # as the system does when a process dies
    (tmp_path / ".deliveries.log-1.pending").write_bytes(json.dumps({"line": 3})[:-2].encode())
    there, not_there = sorted(broken_off(log), key=lambda said: "complete" not in said)
    assert f"{target} is there and complete; its line was added now" in there
    assert f"{other} is not the program to be delivered" in not_there
    assert ["the first line", "2026-11-28T07:00:00+00:00 to=PART.NC found=later"] == log.read_text(encoding="utf-8").splitlines()
    assert () == broken_off(log)
    assert {"deliveries.log", "PART.NC"} == set(os.listdir(tmp_path))
