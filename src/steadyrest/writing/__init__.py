"""The writing room."""
