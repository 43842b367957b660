"""A program gets into its place whole or not at all, whatever the share does."""

from __future__ import annotations

import errno
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from delivery_parts import NEW, OLD, inside, order_of

from steadyrest.delivery import share as share_module
from steadyrest.delivery.share import Order, put, recover
from steadyrest.errors import OutputError, Refused

FORMER = "part-20261124-120000.old"


@pytest.fixture
def share(tmp_path: Path) -> Path:
    folder = tmp_path / "share"
    folder.mkdir()
    return folder


@pytest.fixture
def order(tmp_path: Path, share: Path) -> Order:
    source = tmp_path / "part.nc"
    source.write_bytes(NEW)
    return order_of(source, share)


def failing(name: str, code: int, call: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let one call of a function of the system fail: the first is 1, 0 means every one."""
    real: Callable[..., Any] = getattr(os, name)
    seen = 0

    def broken(*args: Any, **kwargs: Any) -> Any:
        nonlocal seen
        seen += 1
        if call in (0, seen):
            raise OSError(code, os.strerror(code))
        return real(*args, **kwargs)

    monkeypatch.setattr(os, name, broken)


def test_into_an_empty_folder_goes_the_program_and_nothing_else(order: Order, share: Path) -> None:
    assert put(order).kept is None
    assert {"part.nc": NEW} == inside(share)


def test_the_former_version_is_kept_under_its_dated_name(order: Order, share: Path) -> None:
    order.target.write_bytes(OLD)
    assert share / FORMER == put(order).kept
    assert {"part.nc": NEW, FORMER: OLD} == inside(share)


def test_a_dated_name_that_is_taken_gets_a_number(order: Order, share: Path) -> None:
    order.target.write_bytes(OLD)
    order.former.write_bytes(b"OLDER")
    assert share / "part-20261124-120000-2.old" == put(order).kept
    assert b"OLDER" == order.former.read_bytes()


def test_the_same_program_is_left_alone_and_nothing_is_kept(order: Order, share: Path) -> None:
    order.target.write_bytes(NEW)
    assert put(order).same
    assert {"part.nc": NEW} == inside(share)


def test_the_former_version_can_be_kept_in_another_folder(order: Order, share: Path, tmp_path: Path) -> None:
    order.target.write_bytes(OLD)
    elsewhere = order_of(order.source, share, former=tmp_path / "state" / "former" / "part.old")
    assert tmp_path / "state" / "former" / "part.old" == put(elsewhere).kept
    assert {"part.nc": NEW} == inside(share)
    assert {"part.old": OLD} == inside(tmp_path / "state" / "former")


FAULTS = [
    ("open", errno.EROFS, 1, "read-only"),
    ("open", errno.EACCES, 1, "not allowed"),
    ("open", errno.ENOSPC, 2, "full"),
    ("fsync", errno.ENOSPC, 1, "full"),
    ("fsync", errno.EDQUOT, 2, "used up"),
    ("fsync", errno.EIO, 1, "does not respond"),
    ("fsync", errno.ESTALE, 2, "does not respond"),
    ("rename", errno.EACCES, 1, "not allowed"),
]


@pytest.mark.parametrize(("name", "code", "call", "wrong"), FAULTS, ids=[f"{name} {call}" for name, _, call, _ in FAULTS])
def test_when_the_system_fails_the_place_is_as_it_was_and_nothing_is_beside_it(
    order: Order, share: Path, monkeypatch: pytest.MonkeyPatch, name: str, code: int, call: int, wrong: str
) -> None:
    order.target.write_bytes(OLD)
    failing(name, code, call, monkeypatch)
    with pytest.raises(OutputError, match=wrong):
        put(order)
    assert {"part.nc": OLD} == inside(share)


@pytest.mark.parametrize("code", [errno.EEXIST, errno.EACCES, errno.EPERM, errno.EBUSY])
def test_a_share_that_does_not_rename_over_a_file_is_worked_round(
    order: Order, share: Path, monkeypatch: pytest.MonkeyPatch, code: int
) -> None:
    order.target.write_bytes(OLD)
    failing("replace", code, 0, monkeypatch)
    put(order)
    assert {"part.nc": NEW, FORMER: OLD} == inside(share)


def test_a_share_that_then_does_not_rename_into_place_either_gets_its_old_program_back(
    order: Order, share: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    order.target.write_bytes(OLD)
    failing("replace", errno.EEXIST, 0, monkeypatch)
    failing("rename", errno.EBUSY, 3, monkeypatch)  # 1 keeps the copy, 2 puts the old one aside
    with pytest.raises(OutputError, match="in use"):
        put(order)
    assert {"part.nc": OLD} == inside(share)


def test_a_share_that_cannot_flush_is_taken_all_the_same(order: Order, share: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    failing("fsync", errno.EINVAL, 0, monkeypatch)
    put(order)
    assert {"part.nc": NEW} == inside(share)


def test_a_program_that_was_changed_while_it_was_proved_is_not_delivered(order: Order, share: Path) -> None:
    order.target.write_bytes(OLD)
    order.source.write_bytes(NEW + b"G0 Z-50\n")
    with pytest.raises(Refused, match="changed while it was being proved"):
        put(order)
    assert {"part.nc": OLD} == inside(share)


def test_bytes_lost_on_the_way_are_found_before_the_place_is_touched(order: Order, share: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    order.target.write_bytes(OLD)
    real = share_module._flush

    def lossy(descriptor: int) -> None:
        os.ftruncate(descriptor, 100)
        real(descriptor)

    monkeypatch.setattr(share_module, "_flush", lossy)
    with pytest.raises(OutputError, match="differs from the file written"):
        put(order)
    assert {"part.nc": OLD} == inside(share)


def test_bytes_lost_in_place_are_found_and_the_former_program_comes_back(
    order: Order, share: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    order.target.write_bytes(OLD)
    real = os.replace

    def lossy(source: Path, target: Path) -> None:
        real(source, target)
        os.truncate(target, 100)

    monkeypatch.setattr(os, "replace", lossy)
    with pytest.raises(OutputError, match="differs from the one delivered; the older program was put back"):
        put(order)
    assert {"part.nc": OLD, FORMER: OLD} == inside(share)


def test_bytes_lost_in_an_empty_place_are_taken_away_again(order: Order, share: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = os.replace

    def lossy(source: Path, target: Path) -> None:
        real(source, target)
        os.truncate(target, 100)

    monkeypatch.setattr(os, "replace", lossy)
    with pytest.raises(OutputError, match="it was removed again"):
        put(order)
    assert {} == inside(share)


def test_a_folder_that_is_not_there_is_said_to_be_a_share_that_is_not_mounted(order: Order, share: Path) -> None:
    share.rmdir()
    with pytest.raises(OutputError, match="the folder is not there") as caught:
        put(order)
    assert "mount the share" in caught.value.cure


def test_a_file_in_the_place_of_the_folder_is_refused(order: Order, share: Path) -> None:
    share.rmdir()
    share.write_bytes(b"")
    with pytest.raises(OutputError, match="is not a folder"):
        put(order)


@pytest.mark.parametrize("make", [Path.mkdir, os.mkfifo, lambda path: path.symlink_to("elsewhere")])
def test_what_is_no_plain_file_is_not_replaced(order: Order, make: Callable[[Path], None]) -> None:
    make(order.target)
    with pytest.raises(OutputError, match="not an ordinary file"):
        put(order)


class TestWithATimeLimit:
    def test_in_a_process_of_its_own_it_does_the_same(self, order: Order, share: Path) -> None:
        order.target.write_bytes(OLD)
        assert share / FORMER == share_module.put_within(order, 30).kept
        assert {"part.nc": NEW, FORMER: OLD} == inside(share)

    def test_errors_come_back_whole(self, order: Order, share: Path) -> None:
        share.rmdir()
        with pytest.raises(OutputError, match="the folder is not there") as caught:
            share_module.put_within(order, 30)
        assert str(share) == caught.value.place.file

    def test_no_time_at_all_leaves_the_folder_as_it_was(self, order: Order, share: Path) -> None:
        order.target.write_bytes(OLD)
        with pytest.raises(OutputError, match=r"seconds while (starting|looking into the folder); the program there is as before"):
            share_module.put_within(order, 1e-9)
        assert {"part.nc": OLD} == inside(share)

    def test_a_source_that_hangs_is_given_up_and_nothing_is_left(self, order: Order, share: Path) -> None:
        order.target.write_bytes(OLD)
        order.source.unlink()
        os.mkfifo(order.source)  # opening it waits for a writer that never comes, as a dead share does
        with pytest.raises(OutputError, match="while writing beside its place; the program there is as before"):
            share_module.put_within(order, 3)
        assert {"part.nc": OLD} == inside(share)


@pytest.mark.parametrize(
    ("left", "expected"),
    [
        ({"part.nc": OLD, "11111111.tmp": b"NE"}, {"part.nc": OLD}),
        ({"part.nc": OLD, "11111111.tmp": NEW, "33333333.tmp": b"OL"}, {"part.nc": OLD}),
        ({"22222222.tmp": OLD, "11111111.tmp": NEW, FORMER: OLD}, {"part.nc": OLD, FORMER: OLD}),
        ({"part.nc": NEW, "22222222.tmp": OLD, FORMER: OLD}, {"part.nc": NEW, FORMER: OLD}),
        ({"part.nc": NEW, FORMER: OLD}, {"part.nc": NEW, FORMER: OLD}),
    ],
    ids=["while writing", "while keeping", "old one aside", "new one in place", "all done"],
)
def test_wherever_a_delivery_was_stopped_a_whole_program_is_in_place_after_tidying_up(
    order: Order, share: Path, left: dict[str, bytes], expected: dict[str, bytes]
) -> None:
    for name, content in left.items():
        (share / name).write_bytes(content)
    recover(order)
    assert expected == inside(share)
