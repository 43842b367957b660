"""Delivery: a proved program goes where the machine reads it, whole or not at all."""

from steadyrest.delivery.delivery import deliver, delivered_name, deliveries_to

__all__ = ["deliver", "delivered_name", "deliveries_to"]
