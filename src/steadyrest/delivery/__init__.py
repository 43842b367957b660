"""Delivery: a proved program goes where the machine reads it, whole or not at all."""

from steadyrest.delivery.delivery import deliver
from steadyrest.delivery.log import log_file

__all__ = ["deliver", "log_file"]
