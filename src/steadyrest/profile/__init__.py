"""The profile room: one controller's dialect on one machine, found by name or path, resolved, and checked."""

from steadyrest.profile.axes import Arcs, Clamp, Feed, LinearAxis, Rotary, Safety, Travel, Unwinding
from steadyrest.profile.codes import Codes, Coolant, Cycles, Retract, Spindle, Stops, ToolChange, Units
from steadyrest.profile.format import BlockNumbers, Comments, NumberFormat, Numbers, Program, ProgramNumber, Words
from steadyrest.profile.model import Profile
from steadyrest.profile.places import shared_templates_folder
from steadyrest.profile.resolving import ResolvedProfile, load_profile, profile_digest, resolve

__all__ = [
    "Arcs",
    "BlockNumbers",
    "Clamp",
    "Codes",
    "Comments",
    "Coolant",
    "Cycles",
    "Feed",
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
    "load_profile",
    "profile_digest",
    "resolve",
    "shared_templates_folder",
]
