"""The whole way of a program to the machine: the name that it has there, the proof again, the place, the log.

The log has a line for each delivery, with the time, the program's digest and the profile, and nobody's name. What a delivery is about to
do is kept beside the log until its line is there, so that one that died in between is told by the next.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import secrets
import unicodedata
from collections.abc import Collection, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from steadyrest.delivery.share import Order, digest_of, put_within
from steadyrest.errors import Cancelled, InputError, OutputError, Place, Refused, SteadyrestError
from steadyrest.posting import prove
from steadyrest.profile import Profile, own_folder, profile_digest, resolve
from steadyrest.progress import Progress
from steadyrest.proof import CAUTION
from steadyrest.reading import opened_program
from steadyrest.request import Request
from steadyrest.summary import Posted, finding_lines
from steadyrest.writing import PUT, hold, is_left

SECONDS = 60.0
"""How long a share may take, unless said otherwise."""
_FACT = re.compile(r'([a-z]+)=("(?:[^"\\]|\\.)*"|\S+)')
OLD_ENDING = ".old"
"""Of former versions: no program's ending, so that nobody runs one by mistake."""


@dataclass(frozen=True, slots=True)
class Delivered:
    """A program where the machine reads it.

    target    its place there
    digest    SHA-256 of its bytes, in hexadecimal
    kept      where the former version is now; None where there was none, or the same was there already
    same      it was there already, byte for byte
    proved    the proof, made again just before
    log       the log, and its new line
    broken_off   what became of deliveries that died before their line was in the log, a sentence each
    """

    target: Path
    digest: str
    kept: Path | None
    same: bool
    proved: Posted
    log: Path
    line: str
    broken_off: tuple[str, ...] = ()

    def text(self) -> str:
        """A few lines for whoever stands at the machine."""
        done = "is there already, identical byte for byte" if self.same else "delivered, and read back byte for byte"
        outcome = self.proved.outcome
        lines = [f"{outcome.word.upper():<6}{self.target}  {done}", f"       {outcome.line}", *finding_lines(self.proved)]
        lines += [f"  SHA-256 {self.digest}"]
        lines += [f"  notice: {notice}" for notice in self.broken_off]
        if self.kept is not None:
            lines.append(f"  the older version is kept as {self.kept}")
        return "\n".join([*lines, f"  logged in {self.log}", f"  {CAUTION}"])

    def as_json(self) -> dict[str, Any]:
        """The same as data, with the verdict."""
        return {
            **self.proved.outcome.as_json(),
            "target": str(self.target),
            "digest": self.digest,
            "former": str(self.kept) if self.kept is not None else None,
            "already_there": self.same,
            "log": str(self.log),
            "broken_off": list(self.broken_off),
            "proof": self.proved.as_json(),
        }


def deliver(
    program: Path,
    request: Request,
    when: datetime,
    *,
    folder: Path | None = None,
    name: str | None = None,
    seconds: float = SECONDS,
    log: Path | None = None,
    progress: Progress | None = None,
) -> Delivered:
    """Prove a program again and put it where the machine reads it.

    request    what it cuts; names of findings that it accepts go into the log
    when       the time of the delivery, for the dated name and the log
    folder     where it goes; None: the profile's `delivery.folder`
    name       its name there; None: that of the file
    seconds    how long the share may take
    log        None: in the user's state folder
    progress   is told how far it is, stage by stage
    raises     InputError where something that was given is wrong, or the share does not take it; Refused when the outcome is `stop`, or the
               program changes while it is proved. Unless all went well the folder is as it was before
    """
    profile = resolve(request.named_controller, request.sets).profile
    if folder is None and not profile.delivery.folder:
        raise InputError(
            f"{profile.name} does not state the folder from which the machine reads programs",
            place=Place(key="delivery.folder"),
            cure="give the folder: --to FOLDER, or set delivery.folder in the profile",
        )
    into = Path(os.path.abspath(os.path.expanduser(folder if folder is not None else profile.delivery.folder)))
    said = delivered_name(name if name is not None else program.name, profile)
    if not seconds > 0:
        raise InputError(
            f"a time limit of {seconds:g} seconds is too short",
            place=Place(key="--time-limit"),
            cure="give more than 0 seconds, for example 60",
        )
    log = log if log is not None else log_file()
    add(log)
    with opened_program(program) as file:
        digest = hashlib.file_digest(file, "sha256").hexdigest()  # type: ignore[arg-type]
    proved = prove(program, request, progress=progress)
    if proved.outcome.word == "stop":
        found = {**proved.outcome.as_json(), "proof": proved.as_json()}
        raise Refused("stop: nothing was delivered", screen=proved.text(), found=found)
    # The former version is kept beside the program where its dated name keeps the machine's rules, else in the user's state folder.
    dated = former_name(said, when, profile)
    apart = own_folder("state") / "former" / f"{said}-{when:%Y%m%d-%H%M%S}{OLD_ENDING}"
    order = Order(program.absolute(), digest, into, said, into / dated if dated is not None else apart)
    facts = {
        "digest": digest,
        "profile": f"{profile.name}/{profile_digest(profile)[:16]}",
        "toolpath": proved.verdict.toolpath_digest[:16],
        "to": str(order.target),
        "outcome": proved.outcome.word,
    }
    if taken := [one.name for one in proved.outcome.findings if one.accepted]:
        facts["accepted"] = ",".join(dict.fromkeys(taken))
    facts["result"] = "delivered"
    told = broken_off(log)
    try:
        with noted(log, log_line(when, facts), order.target, digest):
            put = put_within(order, seconds, progress)
            if put.same:
                facts["result"] = "already there"
            else:
                PUT.append(order.target)
            if put.kept is not None:
                facts["former"] = str(put.kept)
            line = log_line(when, facts)
            try:
                add(log, line)
            except OutputError as error:
                wrong = f"{order.target} was delivered, but {error.wrong}"
                raise OutputError(wrong, place=error.place, cure=f"add this line by hand: {line}") from None
    except SteadyrestError as error:
        if told:
            error.cure = "; ".join([error.cure, *told])
        raise
    return Delivered(order.target, digest, put.kept, put.same, proved, log, line, told)


def log_file() -> Path:
    """The log, unless another one is named."""
    return own_folder("state") / "deliveries.log"


def deliveries_to(targets: Collection[Path], log: Path | None = None) -> list[dict[str, str]]:
    """What the log says of deliveries to these places, the last first: `when`, and the facts by their names, such as digest and profile."""
    wanted, found = {str(each) for each in targets}, []
    with suppress(OSError), open(log or log_file(), encoding="utf-8", errors="replace") as lines:
        for line in lines:
            when, _, rest = line.strip().partition(" ")
            facts = {key: json.loads(value) if value.startswith('"') else value for key, value in _FACT.findall(rest)}
            if facts.get("to") in wanted:
                found.append({"when": when, **facts})
    return found[::-1]


def log_line(when: datetime, facts: Mapping[str, str]) -> str:
    """`2026-11-24T23:20:48+00:00 digest=... profile=...`: the time first, then the facts; those with spaces or the like in quotes."""
    said = [f"{key}={value if _plain(value) else json.dumps(value)}" for key, value in facts.items()]
    return " ".join([when.isoformat(timespec="seconds"), *said])


def _plain(value: str) -> bool:
    return value.isascii() and value.isprintable() and not any(each in value for each in ' "=')


def add(log: Path, line: str = "") -> None:
    """Add a line; without one only make sure that one can be added. OutputError where that fails."""
    try:
        log.parent.mkdir(parents=True, exist_ok=True)
        with open(log, "ab") as file:
            file.write(line.encode("utf-8") + b"\n" if line else b"")
    except OSError as error:
        wrong = f"the log cannot be written: {error.strerror or error}"
        raise OutputError(wrong, place=Place(file=str(log)), cure="name another log: --log FILE") from None


@contextmanager
def noted(log: Path, line: str, target: Path, digest: str) -> Iterator[None]:
    """Meanwhile what is about to be delivered is kept beside the log: its line, its place and its digest; they stay there where it ends
    without a word. OutputError where they cannot be written.
    """
    file = log.with_name(f".{log.name}-{secrets.token_hex(4)}.pending")
    said = json.dumps({"line": line, "target": str(target), "digest": digest}).encode("ascii")
    try:
        descriptor = os.open(file, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o666)
        hold(descriptor)
        os.write(descriptor, said)
        os.fsync(descriptor)
    except OSError as error:
        wrong = f"the delivery cannot be noted in advance: {error.strerror or error}"
        raise OutputError(wrong, place=Place(file=str(log)), cure="name another log: --log FILE") from None
    done = False
    try:
        yield
        done = True
    except SteadyrestError as error:  # it says itself what went wrong; who ended it does not know how far it had come
        done = not isinstance(error, Cancelled)
        raise
    finally:
        os.close(descriptor)
        if done:
            with suppress(OSError):
                file.unlink()


def broken_off(log: Path) -> tuple[str, ...]:
    """A sentence for each delivery that died before its line was in the log, and the line of one that had put its program in place."""
    told: list[str] = []
    for file in sorted(log.parent.glob(f".{log.name}-*.pending")):
        if not is_left(file):
            continue
        try:
            said = json.loads(file.read_bytes())
            line, target, digest = str(said["line"]), Path(said["target"]), str(said["digest"])
        except (OSError, ValueError, KeyError, TypeError):
            line, target, digest = "", log, ""  # it died before it had noted anything, and so before it did anything
        if line:
            when = line.split()[0]
            try:
                there = target.is_file() and digest_of(target) == digest
            except OSError:
                there = False
            if there:
                add(log, f"{line} found=later")
                told.append(
                    f"the delivery of {when} was broken off before it was logged: {target} is there and complete; its line was added now"
                )
            else:
                told.append(
                    f"the delivery of {when} was broken off: {target} is not the program to be delivered. CHECK IT before you run it"
                )
        with suppress(OSError):
            file.unlink()
    return tuple(told)


def delivered_name(name: str, profile: Profile) -> str:
    """The name under which the machine takes a program.

    name     of the file, without a folder
    returns  the same, in capitals where the machine wants capitals
    raises   OutputError for a name that breaks a rule of the profile; the cure has one that keeps them all
    """
    rules, ending = profile.delivery, _ending(profile)
    said = name.upper() if rules.upper_case else name
    wrong = _broken(said, profile)
    if not wrong:
        return said
    # The cure is a name that keeps all rules and looks like the one that was given, where one comes out.
    stem = name.rsplit(".", 1)[0] if "." in name else name
    plain = "".join(each for each in unicodedata.normalize("NFKD", stem) if not unicodedata.combining(each))
    allowed = rules.characters or "".join(map(chr, range(ord("!"), ord("~") + 1))).translate({ord("/"): None, ord("\\"): None})
    joint = next((each for each in "-_" if each in allowed), "")
    kept = "".join(each if each in allowed else joint for each in (plain.upper() if rules.upper_case else plain))
    kept = kept[: rules.longest].strip(". -_")
    proposed = kept + ending if kept and not _broken(kept + ending, profile) else ""
    cure = f"give it another name: --name {proposed}" if proposed else f"give it another name with the ending {ending}: --name NAME"
    raise OutputError(f"the machine does not take this name: {wrong}", place=Place(file=name), cure=cure)


def former_name(name: str, when: datetime, profile: Profile) -> str | None:
    """The dated name of a former version beside the program; None where the machine's rules have no room for it."""
    rules = profile.delivery
    stem = f"{name.removesuffix(_ending(profile))}-{when:%Y%m%d-%H%M%S}"
    ending = OLD_ENDING.upper() if rules.upper_case else OLD_ENDING
    fits = len(stem) <= rules.longest and (not rules.characters or set(stem) <= set(rules.characters))
    return stem + ending if fits else None


def _ending(profile: Profile) -> str:
    ending = profile.program.extension
    return ending.upper() if profile.delivery.upper_case else ending


def _broken(said: str, profile: Profile) -> str:
    """The first rule that a name breaks, in words; empty when it keeps them all."""
    rules, ending = profile.delivery, _ending(profile)
    stem = said.removesuffix(ending)
    if strange := [each for each in said if each in "/\\" or not each.isprintable()]:
        return f"{strange[0]!r} is not allowed in a name"
    if stem == said:
        return f"its ending is not {ending}"
    if not stem or stem.startswith(".") or stem.strip() != stem:
        return "it begins or ends with a dot or a space, or has nothing before its ending"
    if len(stem) > rules.longest:
        return f"it has {len(stem)} characters before its ending, and {rules.longest} are allowed"
    if other := [each for each in stem if rules.characters and each not in rules.characters]:
        return f"{other[0]!r} is not one of the allowed characters {rules.characters}"
    return ""
