"""The page as it is started: for this machine alone, and gone with the command."""

from __future__ import annotations

import signal
import socket
import urllib.request
from pathlib import Path

import pytest
from page_client import serving

from steadyrest.errors import InputError, OutputError
from steadyrest.page import serve


def test_the_address_opens_for_this_machine_alone_and_ends_with_the_command(tmp_path: Path) -> None:
    with serving(tmp_path) as (address, running):
        with urllib.request.urlopen(address, timeout=30) as answer:
            assert b"Parts in" in answer.read()
        with socket.socket() as other:  # on no other address of this machine
            other.bind(("127.0.0.2", int(address.split(":")[2].partition("/")[0])))
        running.send_signal(signal.SIGINT)
        assert 130 == running.wait(30)


def test_short_answers_are_sent_at_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """asyncio sets TCP_NODELAY on those sockets alone that name their protocol; without it each answer waits some 40 ms for an
    acknowledgement (RFC 896, RFC 1122 section 4.2.3.2)."""
    seen: list[int] = []
    monkeypatch.setattr("uvicorn.Server.run", lambda _, sockets: seen.extend(each.proto for each in sockets))
    serve(tmp_path, browser=False, say=lambda text: None)
    assert [socket.IPPROTO_TCP] == seen


def test_it_can_be_started_anew_at_once_on_the_same_port(tmp_path: Path) -> None:
    with serving(tmp_path) as (address, running):
        port = int(address.split(":")[2].partition("/")[0])
        with socket.create_connection(("127.0.0.1", port), timeout=60) as asking:  # the server closes it first, and its port then waits
            asking.sendall(b"GET / HTTP/1.1\r\nHost: other\r\n\r\n")
            while b"this machine only" not in (got := asking.recv(4096)):
                assert got
            running.terminate()
            assert b"" == asking.recv(1)
    with serving(tmp_path, "--port", str(port)) as (again, _):
        assert f":{port}/" in again
        assert again != address, "with a key of its own"


def test_a_port_that_is_taken_and_a_folder_that_is_not_there_are_told(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(OutputError, match="cannot be used"):
            serve(tmp_path, port=taken.getsockname()[1], browser=False)
    with pytest.raises(InputError, match="no such folder"):
        serve(tmp_path / "nowhere", browser=False)
    with pytest.raises(InputError, match="no such folder"):
        serve(tmp_path, deliver_to=[tmp_path / "nowhere"], browser=False)
