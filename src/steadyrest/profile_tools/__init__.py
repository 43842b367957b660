"""How a shop keeps its profiles. Make one, check it, compare it with another or with what it was before."""

from steadyrest.profile_tools.checks import Result, check, check_sources, check_templates
from steadyrest.profile_tools.comparison import compare, comparison_data, comparison_text, revision_in, side
from steadyrest.profile_tools.new_profile import create, created_text
from steadyrest.profile_tools.trial import ENDING, Trial, events_reached, tour, tour_folder, try_out, without_digest

__all__ = [
    "ENDING",
    "Result",
    "Trial",
    "check",
    "check_sources",
    "check_templates",
    "compare",
    "comparison_data",
    "comparison_text",
    "create",
    "created_text",
    "events_reached",
    "revision_in",
    "side",
    "tour",
    "tour_folder",
    "try_out",
    "without_digest",
]
