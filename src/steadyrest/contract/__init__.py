"""The contract room: what every profile of a shop and every reader of inputs has to keep, as facts that tests state, and golden files."""

from steadyrest.contract.facts import Broken, Shop, Subject, settings_fact, sources_fact, templates_fact, toolpath_fact, writing_fact
from steadyrest.contract.goldens import golden_difference, golden_file, golden_text, left_over, put_golden
from steadyrest.contract.readers import ReaderContract

__all__ = [
    "Broken",
    "ReaderContract",
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
