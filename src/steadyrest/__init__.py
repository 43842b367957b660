"""Toolpaths for a mill with a rotary become proved programs."""
