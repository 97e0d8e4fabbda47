"""Serving the pages: one process that holds the writer's lock of its folder."""

from __future__ import annotations

import contextlib
import socket
from collections.abc import Callable
from pathlib import Path

import uvicorn

from brinehouse import findings
from brinehouse.web import app
from brinehouse.workbench import mishaps


def serve(folder: Path, *, host: str, port: int, told: Callable[[str], None]) -> int:
    """Serve until stopped; the exit status.

    Parameters
    ----------
    folder : Path
    host : str
        A loopback address.
    port : int
        0 takes a free one.
    told : callable
        Called with the address once the port is ours.
    """
    with _listen(host, port) as line:
        actual = line.getsockname()[1]
        made = app.create_app(folder)
        table = made.state.desk
        table.door = (host, actual)
        if table.has_hall():
            table.hall()
        config = uvicorn.Config(
            made, log_level="warning", access_log=False, server_header=False, lifespan="on"
        )
        told(f"http://{host if ':' not in host else f'[{host}]'}:{actual}/")
        with contextlib.suppress(KeyboardInterrupt):  # Ctrl-C is how it is meant to end
            uvicorn.Server(config).run(sockets=[line])
    return 0


def _listen(host: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    line = socket.socket(family, socket.SOCK_STREAM)
    line.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        line.bind((host, port))
        line.listen(128)  # before the address is told, so that whoever is told may ask at once
    except OSError as fault:
        line.close()
        raise mishaps.Refused(
            findings.Finding(
                code="serve/port-taken",
                level=findings.Level.STOP,
                text=f"Port {port} cannot be used: {(fault.strerror or 'it is taken').lower()}",
                hint="name another with --port, or end what uses it",
            )
        ) from fault
    return line
