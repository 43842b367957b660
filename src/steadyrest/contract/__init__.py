"""The contract room: what every profile of a shop has to keep, as facts that a test can state one by one, and golden files."""

from steadyrest.contract.facts import Broken, Shop, Subject, settings_fact, sources_fact, templates_fact, toolpath_fact, writing_fact
from steadyrest.contract.goldens import golden_difference, golden_file, golden_text, left_over, put_golden

__all__ = [
    "Broken",
    "Shop",
    "Subject",
    "golden_difference",
    "golden_file",
    "golden_text",
    "left_over",
    "put_golden",
    "settings_fact",
    "sources_fact",
    "templates_fact",
    "toolpath_fact",
    "writing_fact",
]
