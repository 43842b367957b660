"""How a shop keeps its profiles. Make one, check it, compare it with another or with what it was before, change it."""

from steadyrest.profile_tools.catalogue import Group, Setting, general, groups
from steadyrest.profile_tools.checks import Result, check, check_sources, check_templates, check_tour
from steadyrest.profile_tools.comparison import Comparison, compare, comparison_data, comparison_text
from steadyrest.profile_tools.new_profile import Created, answered, create, created_text, named_settings, questionnaire
from steadyrest.profile_tools.reasons import TOGETHER, template_files
from steadyrest.profile_tools.revision import Commit, last_commit, revision_in, side
from steadyrest.profile_tools.settings import ABSENT, Absent, differences, said, set_values, table_of, value_of, with_values
from steadyrest.profile_tools.stating import sources_in
from steadyrest.profile_tools.storing import Change, Said, is_ours, planned_change, said_by, store
from steadyrest.profile_tools.trial import (
    ENDING,
    Trial,
    event_lines,
    events_reached,
    tour,
    tour_folder,
    tried_gauge_lengths,
    try_out,
    without_digest,
)

__all__ = [
    "ABSENT",
    "ENDING",
    "TOGETHER",
    "Absent",
    "Change",
    "Commit",
    "Comparison",
    "Created",
    "Group",
    "Result",
    "Said",
    "Setting",
    "Trial",
    "answered",
    "check",
    "check_sources",
    "check_templates",
    "check_tour",
    "compare",
    "comparison_data",
    "comparison_text",
    "create",
    "created_text",
    "differences",
    "event_lines",
    "events_reached",
    "general",
    "groups",
    "is_ours",
    "last_commit",
    "named_settings",
    "planned_change",
    "questionnaire",
    "revision_in",
    "said",
    "said_by",
    "set_values",
    "side",
    "sources_in",
    "store",
    "table_of",
    "template_files",
    "tour",
    "tour_folder",
    "tried_gauge_lengths",
    "try_out",
    "value_of",
    "with_values",
    "without_digest",
]
