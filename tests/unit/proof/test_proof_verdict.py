"""The line in a program's head says for which toolpath and profile it was proved."""

from __future__ import annotations

from proof_parts import profile, verdict_of, wave

from steadyrest.profile import profile_digest
from steadyrest.proof import head_line
from steadyrest.proof.verdict import stale


def test_the_head_line_tells_a_stale_program() -> None:
    digests = "ab" * 32, profile_digest(profile())
    line = head_line(*digests)
    assert set(line) <= set("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789 .-")
    assert line == f"PROVED TOOLPATH {'AB' * 8} PROFILE {digests[1][:16].upper()}"
    said = ["something else", f"digest {line}".lower()]
    assert "" == stale(said, *digests) == stale(said[:1], *digests)
    assert "against another version of the profile: " in stale(said, digests[0], "cd" * 32)
    assert "against another version of the toolpath and another version of the profile: " in stale(said, "cd" * 32, "cd" * 32)
    verdict = verdict_of(f"({line})\n" + wave())
    assert verdict.proved
    assert ["another version of the toolpath" in notice for notice in verdict.notices] == [True]
