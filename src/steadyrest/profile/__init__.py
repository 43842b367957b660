"""The profile room."""
