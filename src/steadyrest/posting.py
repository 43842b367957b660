"""The whole way of a toolpath: read, plan, write, prove, and only then put in place.

Long programs are proved on a second core while they are still being written.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from steadyrest.errors import Refused, SteadyrestError
from steadyrest.motion import plan
from steadyrest.notices import Notice
from steadyrest.profile import ResolvedProfile, profile_digest, resolve
from steadyrest.proof import Verdict, head_line
from steadyrest.proof import prove as prove_program
from steadyrest.proof.apart import Prover
from steadyrest.toolpath import Toolpath, load_toolpath
from steadyrest.writing import Writing, put_in_place, write_program

APART_FROM_BYTES = 6_000_000
"""Toolpath files longer than this are proved in a process of their own: starting it costs about as long as proving so much."""


@dataclass(frozen=True, slots=True)
class Posted:
    """A program and what is known of it.

    program    its file
    verdict    what the proof says
    notices    what was changed on the way from toolpath to program
    """

    program: Path
    toolpath: Toolpath
    controller: str
    verdict: Verdict
    notices: tuple[Notice, ...]

    def text(self) -> str:
        """One screen for whoever stands at the machine."""
        from steadyrest.summary import summary

        return summary(self.program, self.toolpath, self.controller, self.verdict, self.notices)

    def as_json(self) -> dict[str, Any]:
        """The same as data."""
        from steadyrest.summary import summary_data

        return summary_data(self.program, self.toolpath, self.controller, self.verdict, self.notices)


def post(
    toolpath_path: Path,
    controller: str,
    output: Path,
    *,
    sets: Sequence[str] = (),
    tolerance: float | None = None,
    accept_origin: bool = False,
    show: Callable[[int], None] | None = None,
) -> Posted:
    """Write the program of a toolpath, prove it, and put it in place.

    controller   name of a profile, or the path of its folder
    sets         KEY=VALUE, overriding settings for this run
    tolerance    how far the tip may leave its path, file units, part frame
    show         called now and then with the number of lines written so far
    raises       InputError when toolpath, profile or output is wrong; Refused when the proof fails. The old file then stands as it was
    """
    resolved = resolve(controller, sets)
    toolpath = load_toolpath(toolpath_path)
    writing, notices = _write(toolpath, resolved, tolerance, accept_origin)
    apart = _worth_a_process(toolpath_path)
    with (
        Prover(toolpath_path, toolpath, resolved.profile, tolerance, apart=apart) as prover,
        put_in_place(_shown(prover.passing(writing), writing, show), output) as placed,
    ):
        verdict = prover.verdict(placed.temporary)
        if not verdict.proved:
            raise Refused(f"not proved, and {output} is as it was before\n{verdict.text()}")
        placed.commit()
    found = (*notices, *writing.notices)
    return Posted(output, toolpath, resolved.profile.name, verdict, found)


def posted_text(toolpath_path: Path, controller: str, *, sets: Sequence[str] = (), tolerance: float | None = None) -> str:
    """The proved text of a small program, without a file. Raises as `post` does."""
    resolved = resolve(controller, sets)
    toolpath = load_toolpath(toolpath_path)
    writing, _ = _write(toolpath, resolved, tolerance, accept_origin=False)
    text = b"".join(writing)
    verdict = prove_program(text, toolpath, resolved.profile, tolerance=tolerance)
    if not verdict.proved:
        raise Refused(f"not proved\n{verdict.text()}")
    return text.decode("ascii")


def prove(program: Path, toolpath_path: Path, controller: str, *, sets: Sequence[str] = (), tolerance: float | None = None) -> Posted:
    """Prove a program that exists, edited by hand or old. Raises InputError; a failed proof is in the verdict."""
    resolved = resolve(controller, sets)
    toolpath = load_toolpath(toolpath_path)
    verdict = prove_program(program, toolpath, resolved.profile, tolerance=tolerance)
    return Posted(program, toolpath, resolved.profile.name, verdict, ())


def _write(toolpath: Toolpath, resolved: ResolvedProfile, tolerance: float | None, accept_origin: bool) -> tuple[Writing, list[Notice]]:
    profile = resolved.profile
    head = head_line(toolpath.digest, profile_digest(profile))
    planned = plan(toolpath, profile, tolerance=tolerance, accept_origin=accept_origin, head=head)
    writing = write_program(planned.items, profile, resolved.template_folders, inch=planned.inch, rotary_letter=planned.letter)
    return writing, planned.notices


def _worth_a_process(toolpath_path: Path) -> bool:
    try:
        long = toolpath_path.stat().st_size > APART_FROM_BYTES
    except OSError:
        return False
    return long and (os.cpu_count() or 1) > 1


def _shown(chunks: Iterator[bytes], writing: Writing, show: Callable[[int], None] | None) -> Iterator[bytes]:
    for chunk in chunks:
        yield chunk
        if show is not None:
            show(writing.lines)


__all__ = ["Posted", "SteadyrestError", "post", "posted_text", "prove"]
