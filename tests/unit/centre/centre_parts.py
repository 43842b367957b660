"""For the tests of the centre."""

from __future__ import annotations

from click.testing import CliRunner, Result

from steadyrest.cli import main

BAR = ["--diameter", "40.018", "--top", "8.25", "--sides", "Y", "-37.482", "12.536"]


def centre(*arguments: str) -> Result:
    result = CliRunner().invoke(main, ["centre", *arguments])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.output
    return result
