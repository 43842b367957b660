"""What did the checks of a profile find, as a table, as data, and as an exit code?"""

from __future__ import annotations

import textwrap
from collections import Counter
from dataclasses import asdict, dataclass
from typing import Any, Literal

Level = Literal["good", "remark", "wrong", "refused"]

WIDTH = 110


@dataclass(frozen=True, slots=True)
class Result:
    """One finding.

    check   which check found it: "settings", "templates", "sources", "effect", "tour", "extreme"
    what    the setting, file, toolpath or trial that it is about
    level   "good"; "remark": worth a look; "wrong": the profile is wrong; "refused": a program does not cut what it should
    words   what was found, and the cure
    """

    check: str
    what: str
    level: Level
    words: str


@dataclass(frozen=True, slots=True)
class Report:
    """All findings about one profile."""

    profile: str
    results: tuple[Result, ...]

    def exit_code(self, *, strict: bool = False) -> int:
        """0 good, 1 the profile is wrong (with `strict`: or there are remarks), 3 a program was refused by the proof."""
        levels = {result.level for result in self.results}
        if "refused" in levels:
            return 3
        return 1 if "wrong" in levels or (strict and "remark" in levels) else 0

    def text(self) -> str:
        """A table: a row a finding, later lines of its words below each other."""
        lines, before = [self.profile], ""
        width = min(34, max((len(result.what) for result in self.results), default=0))
        for result in self.results:
            mark = result.level if result.level == "good" else result.level.upper()
            head = f"  {result.check if result.check != before else '':<10}{mark:<9}{result.what:<{width}}  "
            before = result.check
            for line in result.words.splitlines() or [""]:
                room = max(40, WIDTH - len(head))
                for part in textwrap.wrap(line.strip(), room, break_long_words=False, break_on_hyphens=False) or [""]:
                    lines.append(f"{head}{part}")
                    head = " " * len(head)
        named: dict[Level, str] = {"good": "good", "remark": "remark(s)", "wrong": "wrong", "refused": "refused by the proof"}
        found = Counter(result.level for result in self.results)
        counts = [f"{found[level]} {words}" for level, words in named.items() if found[level] or level == "good"]
        return "\n".join([*lines, "", f"  {', '.join(counts)}"]) + "\n"

    def data(self, *, strict: bool = False) -> dict[str, Any]:
        """The same as data. Keys are only ever added."""
        return {"profile": self.profile, "exit_code": self.exit_code(strict=strict), "results": [asdict(each) for each in self.results]}
