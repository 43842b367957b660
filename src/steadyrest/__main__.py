"""The command `steadyrest`, which is also `python -m steadyrest`."""

from __future__ import annotations

import atexit
import os
import sys
from contextlib import suppress

from steadyrest.cli import main


def run() -> None:
    """A command, and the end of its process.

    What it did is whole by then, so nothing is taken apart: half of a short command's time would go into freeing modules one by one.
    """
    code: object = 1
    try:
        main(prog_name="steadyrest")
    except SystemExit as end:
        code = end.code
    atexit._run_exitfuncs()
    for stream in (sys.stdout, sys.stderr):
        with suppress(AttributeError, OSError, ValueError):  # closed from the beginning, or meanwhile
            stream.flush()
    os._exit(code if isinstance(code, int) else 0 if code is None else 1)


if __name__ == "__main__":
    run()
