"""What was changed by hand and not saved yet, kept beside the job: a reload, another tab, a closed laptop, a new start lose nothing of it.

It stands as `.NAME.copy.json`, hidden, as it is nothing that a command reads. A change stays with the lines that it replaced: where the
program was made anew meanwhile and says something else there, the change is told, and never put in.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from steadyrest.errors import OutputError
from steadyrest.page.edited import Change, said
from steadyrest.page.job_file import ENDING
from steadyrest.writing import put_in_place

COPY = ".copy.json"


@dataclass(frozen=True, slots=True)
class Draft:
    """Changes that were kept.

    digest    of the file; empty where there is none
    changes   those that fit the program as it is now
    left      those that do not any more, each as it was kept: `first`, `last`, `lines`, `around`, `words`
    """

    digest: str
    changes: tuple[Change, ...]
    left: tuple[dict[str, Any], ...]

    def as_json(self) -> dict[str, Any]:
        """Plain data for the page."""
        return {"digest": self.digest, "changes": [one.as_json() for one in self.changes], "left": [str(one["words"]) for one in self.left]}


def draft_file(job: Path) -> Path:
    """Where it is kept."""
    return job.with_name(f".{job.name.removesuffix(ENDING)}{COPY}")


def read_draft(job: Path, posted: Sequence[str]) -> Draft:
    """What was kept for a job, held against the lines of its program as it is now. A file that cannot be read is none."""
    try:
        text = draft_file(job).read_bytes()
    except OSError:
        return Draft("", (), ())
    fit: list[Change] = []
    left: list[dict[str, Any]] = []
    with suppress(ValueError, TypeError, KeyError, RecursionError):
        for one in json.loads(text):
            change = Change(int(one["first"]), int(one["last"]), tuple(str(line) for line in one["lines"]))
            past = max(fit[-1].last, fit[-1].first - 1) if fit else 0
            if past < change.first <= change.last + 1 <= len(posted) + 1 and one["around"] == _around(change, posted):
                fit.append(change)
            else:
                left.append({**change.as_json(), "around": [str(line) for line in one["around"]], "words": str(one["words"])})
    return Draft(hashlib.sha256(text).hexdigest()[:16], tuple(fit), tuple(left))


def keep_draft(job: Path, changes: Sequence[Change], posted: Sequence[str], *, seen: str, forget: bool = False) -> Draft:
    """Keep changes in place of those that fitted; those that do not stay, unless they are to be forgotten. Without any the file goes.

    seen     digest of the draft on which they were made
    raises   OutputError where it was changed meanwhile in another window, or the folder does not take it
    """
    now = read_draft(job, posted)
    if now.digest != seen:
        raise OutputError("the copy was changed meanwhile in another window", cure="look at it as it is now, and change it again")
    told = [{**one.as_json(), "around": _around(one, posted), "words": said(one, posted)} for one in changes]
    kept = sorted([*told, *(() if forget else now.left)], key=lambda one: int(one["first"]))
    file = draft_file(job)
    if kept:
        put_in_place([json.dumps(kept, ensure_ascii=False).encode()], file).commit()
    elif now.digest:
        file.unlink(missing_ok=True)
    return read_draft(job, posted)


def drop_drafts(folder: Path) -> None:
    """Take away what was kept beside jobs that are there no more: a new job of that name must not find it."""
    for file in folder.glob(f".*{COPY}"):
        if not file.with_name(file.name[1:].removesuffix(COPY) + ENDING).exists():
            with suppress(OSError):
                file.unlink()


def _around(change: Change, posted: Sequence[str]) -> list[str]:
    """The lines that a change replaced, with the one before them and the one behind them."""
    return list(posted[max(0, change.first - 2) : change.last + 1])
