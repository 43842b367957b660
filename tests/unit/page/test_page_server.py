"""The page as it is started: for this machine alone, and gone with the command."""

from __future__ import annotations

import re
import signal
import socket
import subprocess
import sys
import urllib.request
from pathlib import Path
from threading import Timer

import pytest

from steadyrest.errors import InputError, OutputError
from steadyrest.page import serve


def test_the_address_opens_for_this_machine_alone_and_ends_with_the_command(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "steadyrest", "page", str(tmp_path), "--no-browser"]
    with subprocess.Popen(command, stderr=subprocess.PIPE, text=True) as running:
        late = Timer(60, running.kill)  # whatever goes wrong below, it does not stay
        late.start()
        assert running.stderr is not None
        told = ""
        while "Ctrl-C" not in told:
            told += running.stderr.readline()
        found = re.search(r"http://127\.0\.0\.1:(\d+)/\S+/", told)
        assert found is not None
        with urllib.request.urlopen(found[0], timeout=30) as answer:
            assert b"Parts in" in answer.read()
        with socket.socket() as other:  # on no other address of this machine
            other.bind(("127.0.0.2", int(found[1])))
        running.send_signal(signal.SIGINT)
        assert 130 == running.wait(30)
        late.cancel()


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
