"""The program of a toolpath as it was when somebody last read it: kept in a file beside the profile, and compared."""

from __future__ import annotations

import difflib
import os
import re
import tempfile
from pathlib import Path

from steadyrest.contract.facts import Shop, Subject, toolpath_fact

FOLDER = "goldens"
ENDING = ".golden"
MOST_LINES = 40
"""So many lines of a difference are shown; more are read in the file itself."""

_PROFILE_DIGITS = re.compile(rb"(PROVED TOOLPATH [0-9A-F]{16} PROFILE )[0-9A-F]{16}")
"""Every setting changes the profile's digest, also one that changes nothing else in the program: it is left out."""


def golden_file(shop: Shop, subject: Subject) -> Path:
    """Where the golden file of a toolpath is kept: `goldens/tour/` or `goldens/toolpaths/` in the profile's folder."""
    return shop.folder / FOLDER / subject.whose / f"{subject.name}{ENDING}"


def golden_text(shop: Shop, subject: Subject) -> bytes:
    """What the golden file should hold: the proved program, or the words of its refusal, the same on every machine.

    raises Broken for a program that is not proved: such a one is never kept
    """
    toolpath_fact(shop, subject)
    trial = shop.trial(subject)
    if trial.outcome == "proved":
        return _PROFILE_DIGITS.sub(rb"\g<1>" + b"0" * 16, trial.text)
    words = f"refused: {type(trial.error).__name__}: {trial.words}\n"
    for path, name in ((subject.file, subject.file.name), (shop.folder, shop.folder.name), (shop.folder.parent.parent, ".")):
        words = words.replace(str(path), name)
    return words.encode("utf-8")


def golden_difference(shop: Shop, subject: Subject) -> str:
    """Why the golden file is not what is written now; empty where it is. Raises Broken as `golden_text` does."""
    now = golden_text(shop, subject)
    file = golden_file(shop, subject)
    try:
        kept = file.read_bytes()
    except OSError:
        return (
            f"there is no golden file {_short(file)} yet: have it written, read it line by line as you would at the machine, and commit it"
        )
    if kept == now:
        return ""
    before, after = _lines(kept), _lines(now)
    if before == after:
        return (
            f"{_short(file)} differs in its line endings only: is program.line_ending meant to change?\n"
            f"If not, something changed the file: a line '*{ENDING} -text' in .gitattributes keeps git from it."
        )
    lines = list(difflib.unified_diff(before, after, "as it was", "as written now", lineterm="", n=2))
    more = [f"... and {len(lines) - MOST_LINES} more lines"] if len(lines) > MOST_LINES else []
    return "\n".join([f"{_short(file)} is not what is written now:", *lines[:MOST_LINES], *more])


def put_golden(shop: Shop, subject: Subject) -> bool:
    """Write the golden file, proved first; whole or not at all. Returns whether it is another one now. Raises Broken, OSError."""
    now = golden_text(shop, subject)
    file = golden_file(shop, subject)
    if file.is_file() and file.read_bytes() == now:
        return False
    file.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=file.parent, prefix=".golden-")
    try:
        with os.fdopen(handle, "wb") as out:
            out.write(now)
        os.chmod(name, 0o644)
        os.replace(name, file)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    return True


def left_over(shop: Shop) -> list[Path]:
    """Golden files of toolpaths that are gone."""
    wanted = {golden_file(shop, subject) for subject in shop.subjects}
    return sorted(file for file in (shop.folder / FOLDER).glob(f"*/*{ENDING}") if file not in wanted)


def _lines(text: bytes) -> list[str]:
    return text.decode("utf-8", errors="replace").splitlines()


def _short(file: Path) -> str:
    return "/".join(file.parts[-5:])
