"""Each module that decides something has tests of its own, in a file of its name: tests/unit/ROOM/test_ROOM_MODULE.py."""

from __future__ import annotations

from pathlib import Path

ROOT = Path(__file__).parents[2]
MODULES = ROOT / "src" / "steadyrest"

EXCEPTIONS = {
    "conventions": "names of axes and planes, and the inch",
    "profile/base": "what all groups of settings inherit",
    "cli/common": "every command goes through it; tests/contract/test_command_line.py",
    "cli/controller": "options alone; tests/unit/profile_tools/test_profile_tools_cli.py",
    "cli/machine": "options alone; tests/unit/centre/test_centre_commands.py",
    "cli/programs": "options alone; tests/unit/outcome/test_outcome_commands.py",
    "cli/show": "options alone; tests/unit/viewer/test_viewer_pictures.py",
    "contract": "needs a pytest of its own, and is a test itself; tests/contract/test_pytest_plugin.py and tests/contract/test_readers.py",
    "motion/chain_planes": "checked from outside; tests/outside/test_planes_on_two_rotaries.py and tests/outside/test_planes_on_heads.py",
    "motion/leaning": "checked from outside; tests/outside/test_planes_on_heads.py",
    "motion/lying": "checked from outside; tests/outside/test_planes_on_heads.py",
    "motion/chain": "checked from outside; tests/outside/test_chain_kinematics.py",
    "page/app": "what all pages share; tests/unit/page/test_page_first.py",
    "page/routes": "declares; tests/unit/page/test_page_guard.py asks it",
    "pytest_plugin": "needs a pytest of its own; tests/contract/test_pytest_plugin.py",
    "testing": "strategies; tests/property/test_toolpath_strategies.py",
}
"""Modules without such a file: they declare and decide nothing, or their tests have to stand elsewhere, in the file that is named."""


def without_tests() -> set[str]:
    """Modules by path, such as `proof/holes`, that no file of tests/unit is named after."""
    named = {file.stem.removeprefix("test_") for file in (ROOT / "tests" / "unit").rglob("test_*.py")}
    modules = (file.relative_to(MODULES).with_suffix("") for file in MODULES.rglob("*.py") if not file.stem.startswith("__"))
    return {module.as_posix() for module in modules if "_".join(module.parts) not in named}


def test_every_module_that_decides_something_has_a_file_of_tests() -> None:
    assert set() == without_tests() - set(EXCEPTIONS), "move its tests into tests/unit/ROOM/test_ROOM_MODULE.py, or write them"


def test_no_exception_is_out_of_date() -> None:
    assert set() == set(EXCEPTIONS) - without_tests()
    named = [word for reason in EXCEPTIONS.values() for word in reason.split() if word.startswith("tests/")]
    assert [] == [file for file in named if not (ROOT / file).is_file()]
