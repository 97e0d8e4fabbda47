"""A line between a phone and the hall that misbehaves on command: cut, silent, slow, or cut in mid-answer.

A thread with a listening port of this machine; the modes take hold of bytes already under way.
"""

import asyncio
import contextlib
import random
import socket
import struct
import threading


class Link:
    """One port to one target. `mode` may be changed at any time.

    ``ok`` carries all; ``down`` refuses and breaks what is open; ``silent`` lets nothing through and says
    nothing; ``lose`` lets the question through and breaks the line when the answer comes.

    Attributes
    ----------
    wait : float
        Seconds each piece is held.
    rate : float
        Bytes a second; 0 is as fast as it goes.
    odds : float
        For ``lose``: the share of answers that are lost.
    """

    def __init__(self, target):
        self.target, self.mode, self.wait, self.rate, self.odds = target, "ok", 0.0, 0.0, 1.0
        self.lost = 0
        self._open, self._random = set(), random.Random(5)
        self._ready = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)

    def __enter__(self):
        self._thread.start()
        self._ready.wait(5)
        return self

    def __exit__(self, *_):
        self._loop.call_soon_threadsafe(self._end.set)
        self._thread.join(5)

    def set(self, mode):
        """Change the mode; a line that goes down breaks what is open."""
        self.mode = mode
        if mode == "down":
            self._loop.call_soon_threadsafe(self._break_all)

    def _break_all(self):
        for writer in list(self._open):
            _reset(writer)

    def _run(self):
        asyncio.run(self._serve())

    async def _serve(self):
        self._loop, self._end = asyncio.get_running_loop(), asyncio.Event()
        server = await asyncio.start_server(self._client, "127.0.0.1", 0)
        self.port = server.sockets[0].getsockname()[1]
        self._ready.set()
        await self._end.wait()
        server.close()
        self._break_all()
        for task in asyncio.all_tasks() - {asyncio.current_task()}:
            task.cancel()

    async def _client(self, reader, writer):
        there = here = None
        if self.mode != "down":
            with contextlib.suppress(OSError):
                there, here = await asyncio.open_connection("127.0.0.1", self.target)
        if there is None or here is None:
            _reset(writer)
            return
        pair = {writer, here}
        self._open |= pair
        asked = {"first": b""}
        with contextlib.suppress(asyncio.CancelledError):
            await asyncio.gather(
                self._carry(reader, here, pair, asked), self._carry(there, writer, pair, asked, back=True)
            )
        self._open -= pair
        for one in pair:
            one.close()

    async def _carry(self, reader, writer, pair, asked, *, back=False):
        with contextlib.suppress(OSError):
            while data := await reader.read(16384):
                if not back and data.startswith((b"GET", b"POST", b"PUT")):
                    asked["first"] = data[:5]
                await asyncio.sleep(self.wait + (len(data) / self.rate if self.rate else 0.0))
                while self.mode == "silent":
                    await asyncio.sleep(0.05)
                if back and self._loses(asked["first"]):
                    self.lost += 1
                    for one in pair:
                        _reset(one)
                    return
                writer.write(data)
                await writer.drain()
            if writer.can_write_eof():
                writer.write_eof()

    def _loses(self, asked):
        written = asked.startswith((b"POST", b"PUT"))
        return self.mode == "lose" and written and self._random.random() < self.odds


def _reset(writer):
    line = writer.get_extra_info("socket")
    if line is not None:
        with contextlib.suppress(OSError):
            line.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
    writer.transport.abort()
