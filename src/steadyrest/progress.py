"""How far a long piece of work is, told to whoever asked for it, and how they end it."""

from __future__ import annotations

from collections.abc import Callable

from steadyrest.errors import SteadyrestError

Progress = Callable[[str, int, int], None]
"""Called now and then with the stage, how much of it is done, and how much there is (0: not known). It may raise `Cancelled`."""


class Cancelled(SteadyrestError):
    """Whoever asked wants no more of it; nothing was put in place."""

    exit_code = 130
