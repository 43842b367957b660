"""The dialect room: how a shop keeps its dialects. Make a profile, check it, compare it with another or with what it was before."""

from steadyrest.dialect.checking import check
from steadyrest.dialect.comparing import Comparison, compare
from steadyrest.dialect.comparing_text import comparison_data, comparison_text
from steadyrest.dialect.creating import Created, create
from steadyrest.dialect.former import Side, revision_in, side
from steadyrest.dialect.proposing import Proposal, proposal, propose
from steadyrest.dialect.proposing_text import created_text
from steadyrest.dialect.results import Report, Result
from steadyrest.dialect.tour_toolpaths import tour, tour_folder

__all__ = [
    "Comparison",
    "Created",
    "Proposal",
    "Report",
    "Result",
    "Side",
    "check",
    "compare",
    "comparison_data",
    "comparison_text",
    "create",
    "created_text",
    "proposal",
    "propose",
    "revision_in",
    "side",
    "tour",
    "tour_folder",
]
