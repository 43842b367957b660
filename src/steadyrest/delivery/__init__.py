"""Delivery: a proved program goes where the machine reads it, whole or not at all."""

from steadyrest.delivery.delivery import deliver

__all__ = ["deliver"]
