"""The command `steadyrest`, which is also `python -m steadyrest`."""

from __future__ import annotations

import atexit
import gc
import os
import sys
from contextlib import suppress


def run() -> None:
    """A command from the start of its process to the end: a short one spends its time with these two."""
    # No pool of threads for matrices that nobody multiplies, no plug-ins of the models, which would be looked for in all installed
    # packages; and no search for cycles among the thousands of objects that modules are made of.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    gc.set_threshold(200_000, 20, 20)
    from steadyrest.cli import main

    code: object = 1
    try:
        main(prog_name="steadyrest")
    except SystemExit as end:
        code = end.code
    # What the command did is whole, so nothing is taken apart: to free modules one by one takes as long as to load them.
    atexit._run_exitfuncs()
    for stream in (sys.stdout, sys.stderr):
        with suppress(AttributeError, OSError, ValueError):  # closed from the beginning, or meanwhile
            stream.flush()
    os._exit(code if isinstance(code, int) else 0 if code is None else 1)


if __name__ == "__main__":
    run()
