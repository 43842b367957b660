"""Which name does a program have at the machine, and what does its former version keep?"""

from __future__ import annotations

import unicodedata
from datetime import datetime

from steadyrest.errors import OutputError, Place
from steadyrest.profile import Profile

OLD_ENDING = ".old"
"""Of former versions: no program's ending, so that nobody runs one by mistake."""


def delivered_name(name: str, profile: Profile) -> str:
    """The name under which the machine takes a program.

    name     of the file, without a folder
    returns  the same, in capitals where the machine wants capitals
    raises   OutputError for a name that breaks a rule of the profile; the cure has one that keeps them all
    """
    rules = profile.delivery
    said = name.upper() if rules.upper_case else name
    ending = _ending(profile)
    stem = said.removesuffix(ending)
    wrong = _broken(said, stem, profile)
    if not wrong:
        return said
    proposed = _proposed(name, profile)
    cure = f"give it another name: --name {proposed}" if proposed else f"give it another name with the ending {ending}: --name NAME"
    raise OutputError(f"the machine does not take this name: {wrong}", place=Place(file=name), cure=cure)


def former_name(name: str, when: datetime, profile: Profile) -> str | None:
    """The dated name of a former version beside the program; None where the machine's rules have no room for it."""
    rules = profile.delivery
    stem = f"{name.removesuffix(_ending(profile))}-{when:%Y%m%d-%H%M%S}"
    ending = OLD_ENDING.upper() if rules.upper_case else OLD_ENDING
    fits = len(stem) <= rules.longest and (not rules.characters or set(stem) <= set(rules.characters))
    return stem + ending if fits else None


def _ending(profile: Profile) -> str:
    ending = profile.program.extension
    return ending.upper() if profile.delivery.upper_case else ending


def _broken(said: str, stem: str, profile: Profile) -> str:
    """The first rule that a name breaks, in words; empty when it keeps them all."""
    rules = profile.delivery
    ending = _ending(profile)
    strange = next((each for each in said if each in "/\\" or not each.isprintable()), None)
    if strange is not None:
        return f"{strange!r} is not allowed in a name"
    if stem == said:
        return f"its ending is not {ending}"
    if not stem or stem.startswith(".") or stem.strip() != stem:
        return "it begins or ends with a dot or a space, or has nothing before its ending"
    if len(stem) > rules.longest:
        return f"it has {len(stem)} characters before its ending, and {rules.longest} are allowed"
    other = next((each for each in stem if rules.characters and each not in rules.characters), None)
    if other is not None:
        return f"{other!r} is not one of the allowed characters {rules.characters}"
    return ""


def _proposed(name: str, profile: Profile) -> str:
    """A name that keeps all rules and looks like the one that was given; empty where none comes out."""
    rules = profile.delivery
    stem = name.rsplit(".", 1)[0] if "." in name else name
    plain = "".join(each for each in unicodedata.normalize("NFKD", stem) if not unicodedata.combining(each))
    if rules.upper_case:
        plain = plain.upper()
    joint = next((each for each in "-_" if not rules.characters or each in rules.characters), "")
    kept = "".join(each if _taken(each, rules.characters) else joint for each in plain)[: rules.longest].strip(". -_")
    said = kept + _ending(profile)
    return said if kept and not _broken(said, kept, profile) else ""


def _taken(each: str, characters: str) -> bool:
    return each in characters if characters else "!" <= each <= "~" and each not in "/\\"
