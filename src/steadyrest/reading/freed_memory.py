"""Keeps the memory of columns that are done with for the next ones, instead of giving it back to the system piece after piece.

A C library that maps every large block by itself returns it when it is freed, and the system clears it again for the next piece of
the program: half the time of reading. The GNU C library maps no more blocks of a size once one such was freed, as its manual
says (The GNU C Library Reference Manual, Malloc Tunable Parameters, M_MMAP_THRESHOLD: dynamic). Elsewhere this changes nothing.
"""

from __future__ import annotations

import numpy as np

_BLOCK_BYTES = 16 << 20  # larger than any column of a piece, and below the 32 MB up to which the size is learned


def keep_freed_memory() -> None:
    """Let the C library keep what is freed, some tens of megabytes at most; microseconds, for the block is never touched."""
    np.empty(_BLOCK_BYTES, dtype=np.uint8)
