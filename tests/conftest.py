"""Hypothesis kept deterministic where nobody watches. The flag --update-goldens is that of steadyrest.pytest_plugin."""

from __future__ import annotations

import os
import sys

import pytest
from hypothesis import HealthCheck, settings

# Many tests start a fresh process: without kept bytecode each would compile all of the package anew.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False

settings.register_profile("ci", deadline=None, derandomize=True, max_examples=60, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("few", parent=settings.get_profile("ci"), max_examples=8)
settings.register_profile("long", deadline=None, max_examples=2000, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile(os.environ.get("STEADYREST_HYPOTHESIS", "ci"))


@pytest.fixture(autouse=True)
def _time_to_simulate(monkeypatch: pytest.MonkeyPatch) -> None:
    """An outcome may not depend on how busy the machine is that runs the tests."""
    monkeypatch.setattr("steadyrest.simulation.LEAST_SECONDS", 60.0)
