"""One flag for the golden files, and hypothesis kept deterministic where nobody watches."""

from __future__ import annotations

import os

import pytest
from hypothesis import HealthCheck, settings

settings.register_profile("ci", deadline=None, derandomize=True, max_examples=60, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("long", deadline=None, max_examples=2000, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile(os.environ.get("STEADYREST_HYPOTHESIS", "ci"))


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--update-goldens", action="store_true", help="Prove, then write the golden files anew; read the diff.")
