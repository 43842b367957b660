"""The profile room: one controller's dialect on one machine, found by name or path, resolved, and checked."""

from steadyrest.profile.axes import Arcs, Feed, LinearAxis, Rotary, Travel, Unwinding
from steadyrest.profile.base import PATTERNS, RotaryLetter
from steadyrest.profile.combinations import plain_code, says_what_is_cut
from steadyrest.profile.files import (
    FILE_NAME,
    FoundProfile,
    bundled_folder,
    folder_of,
    line_of,
    own_folder,
    read_toml,
    said_names,
    shared_templates_folder,
    shipped_folder,
    user_folder,
)
from steadyrest.profile.format import NumberFormat, Numbers, Program
from steadyrest.profile.inheritance import (
    BUILT_IN,
    SET,
    ResolvedProfile,
    flat,
    leaves,
    load_profile,
    nested,
    override,
    profile_digest,
    profile_error,
    resolve,
)
from steadyrest.profile.listing import find_profiles, list_text, show_text
from steadyrest.profile.model import Profile, profile_schema, rotaries_of, rotaries_text

__all__ = [
    "BUILT_IN",
    "FILE_NAME",
    "PATTERNS",
    "SET",
    "Arcs",
    "Feed",
    "FoundProfile",
    "LinearAxis",
    "NumberFormat",
    "Numbers",
    "Profile",
    "Program",
    "ResolvedProfile",
    "Rotary",
    "RotaryLetter",
    "Travel",
    "Unwinding",
    "bundled_folder",
    "find_profiles",
    "flat",
    "folder_of",
    "leaves",
    "line_of",
    "list_text",
    "load_profile",
    "nested",
    "override",
    "own_folder",
    "plain_code",
    "profile_digest",
    "profile_error",
    "profile_schema",
    "read_toml",
    "resolve",
    "rotaries_of",
    "rotaries_text",
    "said_names",
    "says_what_is_cut",
    "shared_templates_folder",
    "shipped_folder",
    "show_text",
    "user_folder",
]
