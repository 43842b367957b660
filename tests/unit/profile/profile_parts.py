"""Names that the tests of the profile room share."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from steadyrest.errors import ProfileError

MakeProfile = Callable[..., Path]
Refusal = Callable[..., ProfileError]

SPEAKS = 'speaks = "a profile made for one test"\n'
MOUNTED_B = '[rotary.B]\nalong = "X"\nchuck_faces = "+X"\npositive_turns_chuck = "clockwise"'
INCREMENTAL = 'words.distance = "incremental"\nprogram.start_position = [0, 0, 100, 0]\nretract.form = "height"\n'
