"""What `pytest` does by itself in a shop's repository, once steadyrest is installed: no test code has to be written for it.

For every `controllers/NAME/controller.toml` that pytest comes upon, these tests are collected:

    settings            the profile loads, with all that it inherits
    templates           every template can be used, and is used
    sources             each stated setting says in a comment where it comes from
    writes              at least one toolpath of the tour can be written for it
    tour[TOOLPATH]      a toolpath that comes with steadyrest is posted and proved, or refused because the controller cannot do it
    toolpaths[NAME]     the same for the shop's own, `toolpaths/NAME.toolpath.json` beside `controllers/`
    golden[...]         the program is, byte for byte, the one in `controllers/NAME/goldens/`; a refusal is kept there too
    goldens_left        there is no golden file of a toolpath that is gone

`pytest --update-goldens` writes the golden files anew, each proved first, and deletes those that are left over; read what it changed
(`git diff`) as you would at the machine. For tests of your own there are hypothesis strategies in `steadyrest.testing`.

Nothing but pytest and the standard library is imported until a profile is met.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from steadyrest.contract import Shop, Subject

OPTION = "--update-goldens"
WRITTEN = "steadyrest_golden"


def pytest_addoption(parser: pytest.Parser) -> None:
    """The one option."""
    group = parser.getgroup("steadyrest", "controller profiles")
    with suppress(ValueError):  # somebody else's option of the same name means the same
        group.addoption(OPTION, action="store_true", help="Prove, then write the golden files anew; read the diff.")


def pytest_collect_file(file_path: Path, parent: pytest.Collector) -> pytest.Collector | None:
    """A profile of a shop: `controllers/NAME/controller.toml`."""
    if file_path.name != "controller.toml" or file_path.parent.parent.name != "controllers":
        return None
    return ProfileFile.from_parent(parent, path=file_path)


def pytest_terminal_summary(terminalreporter: Any) -> None:
    """Which golden files were written or deleted."""
    reports = [report for reports in terminalreporter.stats.values() for report in reports if hasattr(report, "user_properties")]
    written = sorted({str(value) for report in reports for name, value in report.user_properties if name == WRITTEN})
    if written:
        terminalreporter.section("golden files")
        for line in written:
            terminalreporter.line(line)
        terminalreporter.line("Read the difference line by line, as you would at the machine, before you commit it.")


class ProfileFile(pytest.File):
    """One profile of a shop."""

    def collect(self) -> Iterator[pytest.Item]:
        """A test for each fact."""
        from steadyrest.contract import FACTS, Shop, toolpath_fact

        shop = Shop(self.path.parent)
        checks: list[tuple[str, Callable[[], None]]] = [(name, partial(holds, shop)) for name, holds in FACTS.items()]
        checks += [(f"{each.whose}[{each.name}]", partial(toolpath_fact, shop, each)) for each in shop.subjects]
        for name, holds in checks:
            yield Fact.from_parent(self, name=name, shop=shop, check=lambda _, holds=holds: holds())
        for each in shop.subjects:
            yield Fact.from_parent(self, name=f"golden[{each.whose}-{each.name}]", shop=shop, check=partial(_golden, each))
        yield Fact.from_parent(self, name="goldens_left", shop=shop, check=_goldens_left)


class Fact(pytest.Item):
    """One fact about a profile. Its check is told how it was asked for, and tells what it wrote."""

    def __init__(self, *, check: Callable[[Fact], None], shop: Shop, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.check, self.shop = check, shop

    def runtest(self) -> None:
        """Whether it holds; where the profile cannot be loaded at all, that is told once and by `settings`."""
        from steadyrest.errors import ProfileError

        if self.name != "settings":
            try:
                assert self.shop.resolved
            except ProfileError:
                pytest.skip("the settings are wrong, see there")
        self.check(self)

    def repr_failure(self, excinfo: pytest.ExceptionInfo[BaseException], style: Any = None) -> Any:
        """The words alone: whoever keeps a profile has no use for our source."""
        from steadyrest.contract import Broken
        from steadyrest.errors import SteadyrestError

        if isinstance(excinfo.value, (Broken, SteadyrestError)):
            return str(excinfo.value)
        return super().repr_failure(excinfo, style)

    def reportinfo(self) -> tuple[os.PathLike[str] | str, int | None, str]:
        """The profile and the fact."""
        return self.path, None, f"{self.path.parent.name}: {self.name}"


def _golden(subject: Subject, fact: Fact) -> None:
    from steadyrest.contract import Broken, golden_difference, golden_file, put_golden

    if fact.config.getoption(OPTION):
        if put_golden(fact.shop, subject):
            fact.user_properties.append((WRITTEN, f"written: {_from_root(golden_file(fact.shop, subject), fact)}"))
    elif difference := golden_difference(fact.shop, subject):
        raise Broken(f"{difference}\nto accept it: pytest {OPTION} '{fact.nodeid}'\nand read the difference before you commit it")


def _goldens_left(fact: Fact) -> None:
    from steadyrest.contract import Broken, left_over

    left = {file: _from_root(file, fact) for file in left_over(fact.shop)}
    if fact.config.getoption(OPTION):
        for file, name in left.items():
            file.unlink()
            fact.user_properties.append((WRITTEN, f"deleted: {name}"))
    elif left:
        files = "\n".join(f"  {name}" for name in left.values())
        raise Broken(f"golden files of toolpaths that are gone:\n{files}\nto delete them: pytest {OPTION} '{fact.nodeid}'")


def _from_root(file: Path, fact: Fact) -> str:
    try:
        return file.relative_to(fact.config.rootpath).as_posix()
    except ValueError:
        return str(file)
