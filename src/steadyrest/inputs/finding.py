"""Which readers are there, and which of them is meant by a file?"""

from __future__ import annotations

import codecs
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from steadyrest.errors import InputError, Place
from steadyrest.inputs.model import Reader
from steadyrest.inputs.options import InputOptions

GROUP = "steadyrest.readers"
"""Entry points of installed packages: each names a Reader, or a function without arguments that gives one."""
HEAD_BYTES = 1 << 16


@dataclass(frozen=True, slots=True)
class FoundReader:
    """A reader that can be used, or what is wrong with it. where: "bundled" or "package NAME VERSION"."""

    name: str
    where: str
    reader: Reader | None
    error: str = ""


def bundled() -> tuple[Reader, ...]:
    """The readers that come with steadyrest, in the order in which they are asked."""
    from steadyrest.inputs.cl import CL_TEXT
    from steadyrest.inputs.job import JOB
    from steadyrest.inputs.neutral import NEUTRAL
    from steadyrest.inputs.program import PROGRAM

    return (NEUTRAL, JOB, CL_TEXT, PROGRAM)


def find_readers() -> list[FoundReader]:
    """All readers, bundled ones first. One that cannot be used is listed with its error and takes nothing else down."""
    found = [FoundReader(reader.kind, "bundled", reader) for reader in bundled()]
    for name, where, load in _entry_points():
        reader, error = _loaded(load, {each.name for each in found if each.reader is not None})
        found.append(FoundReader(reader.kind if reader is not None else name, where, reader, error))
    return found


def _loaded(load: Callable[[], object], taken: set[str]) -> tuple[Reader | None, str]:
    """The reader of an entry point, or why it cannot be used."""
    try:
        loaded = load()
        reader = loaded() if callable(loaded) and not isinstance(loaded, Reader) else loaded
        error = _unfit(reader, taken)
    except (KeyboardInterrupt, MemoryError):
        raise
    except BaseException as caught:  # a package that is not ours may raise anything, and must not take the others down
        return None, f"{type(caught).__name__}: {caught}"
    return (reader, "") if isinstance(reader, Reader) and not error else (None, error)


def _entry_points() -> list[tuple[str, str, Callable[[], object]]]:
    from importlib.metadata import entry_points  # slow to import: only where a file's kind is not plain

    return [
        (point.name, f"package {point.dist.name} {point.dist.version}" if point.dist is not None else "package", point.load)
        for point in sorted(entry_points(group=GROUP), key=lambda each: (each.name, each.value))
    ]


def _unfit(reader: object, taken: set[str]) -> str:
    """Why a reader of a package cannot be used; empty when it can."""
    if not isinstance(reader, Reader):
        return f"it gives {type(reader).__name__}, not a steadyrest.inputs.Reader"
    if not reader.kind or not all(sign.isascii() and (sign.islower() or sign.isdigit() or sign == "-") for sign in reader.kind):
        return f"its kind {reader.kind!r} is not of small letters, digits and hyphens"
    if reader.kind in taken:
        return f"there is a reader of the kind {reader.kind!r} already"
    if any(not ending.startswith(".") or ending != ending.lower() for ending in reader.endings):
        return f"its endings {', '.join(reader.endings)} are not all small, each with its point"
    return ""


def reader_for(path: Path, options: InputOptions) -> Reader:
    """The reader of a file: the kind that was said, or else the one that its content shows, or else its ending.

    raises    InputError: the file cannot be read, an unknown kind, two kinds at once, or none
    """
    place = Place(file=str(path))
    head = _head(path)
    found = find_readers()
    usable = [each.reader for each in found if each.reader is not None]
    broken = "".join(f"; the reader {each.name} of {each.where} cannot be used: {each.error}" for each in found if each.reader is None)
    kinds = ", ".join(reader.kind for reader in usable)
    if options.kind is not None:
        for reader in usable:
            if reader.kind == options.kind:
                return reader
        raise InputError(
            f"there is no kind of input called {options.kind!r}; there are {kinds}{broken}", place=place, cure="name one of those"
        )
    by_ending = [reader for reader in usable if path.name.lower().endswith(reader.endings)]
    by_content = [reader for reader in usable if _recognised(reader, head)]
    for reader in by_content:
        if reader in by_ending:
            return reader
    if len(by_content) == 1:
        return by_content[0]
    if len(by_content) > 1:
        several = " and ".join(reader.kind for reader in by_content)
        raise InputError(f"this may be {several}", place=place, cure=f"say which: --kind {by_content[0].kind}")
    if head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        raise InputError("the file is text in UTF-16", place=place, cure="save it as UTF-8 or plain ASCII")
    if by_ending:
        return by_ending[0]
    raise InputError(
        f"what kind of file this is cannot be told from its content or its ending; it can be read as {kinds}{broken}",
        place=place,
        cure="say which with --kind, or write the file anew",
    )


def _recognised(reader: Reader, head: bytes) -> bool:
    try:
        return bool(reader.recognises(head))
    except (KeyboardInterrupt, MemoryError):
        raise
    except BaseException:  # of a package: then it does not recognise the file
        return False


def _head(path: Path) -> bytes:
    place = Place(file=str(path))
    try:
        if path.is_dir():
            raise InputError("this is a directory", place=place, cure="name a file")
        if path.exists() and not path.is_file():  # a pipe would be waited for, a device has no end
            raise InputError("this is a device or the like, and no plain file", place=place, cure="name a file")
        with path.open("rb") as file:
            head = file.read(HEAD_BYTES)
    except FileNotFoundError:
        raise InputError("there is no such file", place=place, cure="check the name and the folder") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError(f"cannot be read: {reason}", place=place, cure="check the name and the permissions of the file") from None
    if not head.strip():
        raise InputError("the file is empty", place=place, cure="write it again")
    return head
