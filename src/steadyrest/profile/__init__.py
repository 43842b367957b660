"""The profile room: one controller's dialect on one machine, found by name or path, resolved, and checked."""

from steadyrest.profile.axes import Arcs, Clamp, Feed, LinearAxis, Rotary, Safety, Travel, Unwinding
from steadyrest.profile.codes import Codes, Coolant, Cycles, Retract, Spindle, Stops, ToolChange, Units
from steadyrest.profile.combinations import plain_code
from steadyrest.profile.files import bundled_folder, folder_of, own_folder, shared_templates_folder, user_folder
from steadyrest.profile.format import BlockNumbers, Comments, NumberFormat, Numbers, Program, ProgramNumber, Words
from steadyrest.profile.listing import FoundProfile, find_profiles, list_text, show_text
from steadyrest.profile.model import Delivery, Profile, profile_schema, rotaries_of, rotaries_text
from steadyrest.profile.resolve import BUILT_IN, ResolvedProfile, leaves, load_profile, profile_digest, resolve

__all__ = [
    "BUILT_IN",
    "Arcs",
    "BlockNumbers",
    "Clamp",
    "Codes",
    "Comments",
    "Coolant",
    "Cycles",
    "Delivery",
    "Feed",
    "FoundProfile",
    "LinearAxis",
    "NumberFormat",
    "Numbers",
    "Profile",
    "Program",
    "ProgramNumber",
    "ResolvedProfile",
    "Retract",
    "Rotary",
    "Safety",
    "Spindle",
    "Stops",
    "ToolChange",
    "Travel",
    "Units",
    "Unwinding",
    "Words",
    "bundled_folder",
    "find_profiles",
    "folder_of",
    "leaves",
    "list_text",
    "load_profile",
    "own_folder",
    "plain_code",
    "profile_digest",
    "profile_schema",
    "resolve",
    "rotaries_of",
    "rotaries_text",
    "shared_templates_folder",
    "show_text",
    "user_folder",
]
