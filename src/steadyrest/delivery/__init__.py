"""Delivery: a proved program goes where the machine reads it, whole or not at all."""

from steadyrest.delivery.delivery import Delivered, deliver, delivered_name
from steadyrest.delivery.log import log_file

__all__ = ["Delivered", "deliver", "delivered_name", "log_file"]
