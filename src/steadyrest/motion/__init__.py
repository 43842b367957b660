"""The motion room."""
