"""The page on this machine: an address with a token that nobody can guess, a browser that opens it, and an end without leftovers."""

from __future__ import annotations

import os
import secrets
import socket
import tempfile
import webbrowser
from collections.abc import Callable, Sequence
from pathlib import Path
from threading import Timer

from steadyrest.errors import InputError, OutputError, Place


def serve(
    folder: Path, *, deliver_to: Sequence[Path] = (), port: int = 0, browser: bool = True, say: Callable[[str], None] = print
) -> None:
    """Serve the page for the files of a folder, to this machine alone, until it is interrupted.

    deliver_to   folders into which programs may be delivered, besides those that profiles name
    port      0: any that is free
    browser   whether to open the user's browser
    say       is told the address, and what to do with it
    raises    InputError where there is no such folder, or a library of the extra `page` is missing; OutputError where the port is taken
    """
    try:
        import uvicorn

        from steadyrest.page.app import Page
        from steadyrest.page.folder import Folder
        from steadyrest.page.guard import Guard
        from steadyrest.page.routes import make_app
        from steadyrest.page.tasks import Tasks
    except ImportError as error:
        raise InputError(
            f"the page needs the library {error.name}, which is not installed", cure="pip install 'steadyrest[page]'"
        ) from error
    given = Folder.given(folder)
    # With its protocol named, what it accepts sends short answers at once (TCP_NODELAY), not 40 ms later.
    with socket.socket(proto=socket.IPPROTO_TCP) as listening, tempfile.TemporaryDirectory(prefix="steadyrest-page-") as work:
        if os.name == "posix":  # the same port again at once after an end; elsewhere this would let another program take it
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listening.bind(("127.0.0.1", port))
        except OSError as error:
            wrong = f"the port {port} cannot be used: {error.strerror or error}"
            raise OutputError(wrong, place=Place(key="--port"), cure="leave --port out, and a free one is chosen") from None
        listening.listen(128)  # from here on a browser that is quick waits for an answer
        port, token = listening.getsockname()[1], secrets.token_urlsafe(24)
        tasks = Tasks(Path(work))
        address = f"http://127.0.0.1:{port}/{token}/"
        say(f"the page for {given.path} is at\n\n  {address}\n")
        say("Only this machine can open it. Keep this running while you use it; Ctrl-C ends it.")
        if browser:
            Timer(0.3, webbrowser.open, [address]).start()
        guarded = Guard(make_app(Page(given, tasks, tuple(Folder.given(each).path for each in deliver_to))), token, port)
        config = uvicorn.Config(
            guarded, log_level="warning", access_log=False, server_header=False, lifespan="off", ws="none", timeout_graceful_shutdown=2
        )
        try:
            uvicorn.Server(config).run(sockets=[listening])
        finally:
            tasks.end()
