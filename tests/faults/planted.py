"""All faults there are, gathered in one table."""

from __future__ import annotations

import faults_around_cuts  # noqa: F401  entering their faults is what importing them is for
import faults_of_order_and_motion  # noqa: F401
import faults_of_safety  # noqa: F401
import faults_of_switching  # noqa: F401
import faults_of_turning_and_places  # noqa: F401
from fault_table import FAULTS
from faults_without_harm import NOT_CATCHABLE

__all__ = ["FAULTS", "NOT_CATCHABLE"]
