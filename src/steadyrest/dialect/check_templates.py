"""Are the templates of a profile right, each by itself, and does each of them do anything?"""

from __future__ import annotations

import shutil
from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

from steadyrest.dialect.results import Result
from steadyrest.errors import TemplateError
from steadyrest.events import EVENTS
from steadyrest.model_errors import nearest
from steadyrest.profile import ResolvedProfile
from steadyrest.profile.search import said_names
from steadyrest.writing.templates import Templates


def check_templates(resolved: ResolvedProfile, reached: Collection[str]) -> Iterator[Result]:
    """Syntax, unknown names, arithmetic; then templates that no event uses, that the parent has just so, or that the tour never reaches.

    reached   the events of the tour's programs
    """
    own = resolved.chain[0] / "templates"
    files = sorted(own.glob("*.j2")) if own.is_dir() else []
    others = [folder for folder in resolved.template_folders if folder != own]
    wrong: set[str] = set()
    for file in files:
        found = _mistake(file, files, others)
        if found is not None:
            wrong.add(file.name)
            yield Result("templates", file.name, "wrong", str(found))
    if not wrong and (inherited := _whole(resolved.template_folders)) is not None:
        yield Result("templates", Path(inherited.place.file or "").name, "wrong", str(inherited))
        return
    for file in files:
        if file.name not in wrong:
            yield from _use(file, files, others, reached)
    if not wrong:
        yield Result("templates", f"{len(EVENTS)} event(s)", "good", f"{len(files)} of their templates are the profile's own")


def _mistake(file: Path, files: Sequence[Path], others: Sequence[Path]) -> TemplateError | None:
    """What is wrong with one template: it is checked alone, with those that it may include, over the parents'."""
    with TemporaryDirectory(prefix="steadyrest-") as scratch:
        alone = Path(scratch)
        for each in files:
            if each == file or each.stem not in EVENTS:
                shutil.copyfile(each, alone / each.name)
        error = _whole([alone, *others])
        if error is None or error.place.file is None:
            return error
        place = Path(error.place.file)
        if place.parent == alone and place.name != file.name and place.stem not in EVENTS:
            return None  # an included file is wrong: said where that file is checked, if anything includes it
        if place.parent == alone:
            error.place = replace(error.place, file=str(file.with_name(place.name)))
        return error


def _whole(folders: Sequence[Path]) -> TemplateError | None:
    try:
        Templates(folders).check_all()
    except TemplateError as error:
        return error
    return None


def _use(file: Path, files: Sequence[Path], others: Sequence[Path], reached: Collection[str]) -> Iterator[Result]:
    below = next((folder / file.name for folder in others if (folder / file.name).is_file()), None)
    if file.stem not in EVENTS and not any(f'"{file.name}"' in _text(each) or f"'{file.name}'" in _text(each) for each in files):
        cure = said_names("perhaps you mean", [f"{name}.j2" for name in nearest(file.stem, EVENTS)])
        yield Result(
            "templates", file.name, "remark", "; ".join(filter(None, ["no event has this name, and no template includes it", cure]))
        )
    elif below is not None and _text(below) == _text(file):
        yield Result("templates", file.name, "remark", f"the same as {below}: take it out")
    elif file.stem in EVENTS and file.stem not in reached:
        yield Result("templates", file.name, "remark", "no program of the tour has this event, so the template was read and not tried")


def _text(file: Path) -> str:
    return file.read_text(encoding="utf-8", errors="replace")
