"""Serving the pages: one process that holds the writer's lock of its folder."""

from __future__ import annotations

import asyncio
import atexit
import contextlib
import gc
import socket
import sys
import threading
from collections.abc import Callable, Generator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import uvicorn

from brinehouse import findings
from brinehouse.web import app, secure
from brinehouse.workbench import mishaps, tls

EVERYWHERE = {"0.0.0.0": "127.0.0.1", "::": "::1", "": "127.0.0.1"}  # noqa: S104 - only where it is asked for
HOURLY = 3600
SWITCH = 0.001
"""How long [s] a thread that works something out keeps others waiting; a page waits so several times."""
PATIENCE = 2
"""How long [s] a server told to stop waits for answers that are under way."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What whoever began it is told once the ports are its own.

    Attributes
    ----------
    address : str
        Where the pages are.
    trust : str
        With https: where a phone learns to trust the hall, by plain http.
    ready : tls.Ready or None
        With https: the authority and what is to be known of it.
    """

    address: str
    trust: str = ""
    ready: tls.Ready | None = None


def serve(
    folder: Path,
    *,
    host: str,
    port: int,
    told: Callable[[Told], None],
    names: Sequence[str] = (),
    https: bool = False,
    plain_port: int | None = None,
) -> int:
    """Serve until stopped; the exit status.

    Parameters
    ----------
    folder : Path
    host : str
        The address to listen at.
    port : int
        0 takes a free one.
    told : callable
        Called once the ports are ours.
    names : sequence of str
        Names and addresses by which people call this hall.
    https : bool
        Serve with a certificate of the hall's own authority.
    plain_port : int or None
        With https: where plain http leads to it; None is the port after.
    """
    atexit.register(gc.freeze)  # the engines' objects are not taken apart one by one when the program ends
    sys.setswitchinterval(SWITCH)
    with contextlib.ExitStack() as lines:
        line = lines.enter_context(_listen(host, port))
        if https:
            return _by_https(lines, line, folder, host, told, names, plain_port)
        known = () if host in secure.AT_HOME and not names else tls.hosts(names) or tls.of_machine()
        made = app.create_app(folder, hosts=secure.host_headers(known))
        actual = line.getsockname()[1]
        sockets = [line, *_at_home(lines, host, actual)]
        _open_door(made, host, actual)
        told(Told(address=f"http://{_shown(host)}:{actual}/"))
        with contextlib.suppress(KeyboardInterrupt):  # Ctrl-C is how it is meant to end
            uvicorn.Server(_config(made, lifespan="on")).run(sockets=sockets)
    return 0


def _by_https(
    lines: contextlib.ExitStack,
    line: socket.socket,
    folder: Path,
    host: str,
    told: Callable[[Told], None],
    names: Sequence[str],
    plain_port: int | None,
) -> int:
    """The pages by https, and a plain door that leads there."""
    port = line.getsockname()[1]
    plain = lines.enter_context(_listen(host, _next(port) if plain_port is None else plain_port))
    door = plain.getsockname()[1]
    given = tls.hosts(names)
    hall = secure.hall_name(folder)
    ready = tls.ready(folder, hall, given)
    hosts = secure.host_headers(ready.state.serves)
    made = app.create_app(folder, hosts=hosts)
    called = next((name for name in given or ready.state.serves if name not in tls.ALWAYS), _shown(host))
    made.state.https = secure.Https(port=port, plain_port=door, called=called)
    _open_door(made, host, door)

    main = _config(
        secure.Strict(made, given),
        lifespan="on",
        ssl_certfile=ready.certificate,
        ssl_keyfile=ready.key,
    )
    main.load()
    context: Any = main.ssl
    beside = _config(secure.Plain(made, hosts, port), lifespan="off")
    sockets = [plain, *_at_home(lines, host, door)]
    at = _bracketed(called)
    told(Told(address=f"https://{at}:{port}/", trust=f"http://{at}:{door}/trust", ready=ready))
    ended = threading.Event()
    threading.Thread(
        target=renewing,
        args=(ended, context, lambda: tls.ready(folder, hall, given)),
        daemon=True,
        name="tls",
    ).start()
    lines.callback(ended.set)
    with contextlib.suppress(KeyboardInterrupt):
        asyncio.run(_both(uvicorn.Server(main), [line], _Beside(beside), sockets))
    return 0


def renewing(
    ended: threading.Event, context: Any, ready: Callable[[], tls.Ready], every: float = HOURLY
) -> None:
    """Now and then: a fresh certificate where it is due, for every connection from then on.

    Waits by a clock that cannot be set, so that one that jumps stops no renewal.
    """
    while not ended.wait(every):
        with contextlib.suppress(OSError, mishaps.Refused):
            fresh = ready()
            if fresh.renewed:
                context.load_cert_chain(fresh.certificate, fresh.key)


class _Beside(uvicorn.Server):
    """A second server in the process of another, which hears the signals for both."""

    @contextlib.contextmanager
    def capture_signals(self) -> Generator[None]:
        """Hear none."""
        yield


async def _both(
    main: uvicorn.Server, lines: list[socket.socket], beside: uvicorn.Server, others: list[socket.socket]
) -> None:
    """Both servers, until the first is told to end."""
    second = asyncio.create_task(beside.serve(sockets=others))
    try:
        await main.serve(sockets=lines)
    finally:
        beside.should_exit = True
        await second


def _config(made: Any, **more: Any) -> uvicorn.Config:
    return uvicorn.Config(
        made,
        log_level="warning",
        access_log=False,
        server_header=False,
        timeout_graceful_shutdown=PATIENCE,
        **more,
    )


def _open_door(made: Any, host: str, port: int) -> None:
    """Hold the writer's lock, and say where commands on this machine hand over their batches."""
    table = made.state.desk
    table.door = (host if host in secure.AT_HOME else EVERYWHERE.get(host, "127.0.0.1"), port)
    if table.has_hall():
        table.hall()


def _at_home(lines: contextlib.ExitStack, host: str, port: int) -> list[socket.socket]:
    """Commands come over loopback: a line of its own where the pages listen at one address elsewhere."""
    if host in secure.AT_HOME or host in EVERYWHERE:
        return []
    return [lines.enter_context(_listen("127.0.0.1", port))]


def _next(port: int) -> int:
    return port + 1 if port < 65535 else 0


def _shown(host: str) -> str:
    return _bracketed(EVERYWHERE.get(host, host))


def _bracketed(name: str) -> str:
    return f"[{name}]" if ":" in name and not name.startswith("[") else name


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
