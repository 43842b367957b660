"""The reading room."""
