"""The contract room: what every profile of a shop and every reader of inputs has to keep, as facts that tests state, and golden files."""

from steadyrest.contract.facts import (
    FACTS,
    Broken,
    Shop,
    Subject,
    golden_difference,
    golden_file,
    left_over,
    put_golden,
    toolpath_fact,
)
from steadyrest.contract.readers import ReaderContract

__all__ = [
    "FACTS",
    "Broken",
    "ReaderContract",
    "Shop",
    "Subject",
    "golden_difference",
    "golden_file",
    "left_over",
    "put_golden",
    "toolpath_fact",
]
