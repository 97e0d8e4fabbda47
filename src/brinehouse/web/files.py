"""Static files out of the package, with long caching under an address that names their content."""

from __future__ import annotations

import functools
import gzip
import hashlib
import importlib.resources
from pathlib import Path

from starlette.datastructures import Headers
from starlette.responses import Response
from starlette.staticfiles import StaticFiles
from starlette.types import Scope


def folder() -> Path:
    """Where the static files are."""
    return Path(str(importlib.resources.files("brinehouse.web").joinpath("static")))


@functools.cache
def digest(name: str) -> str:
    """A short digest of a file's content."""
    return hashlib.sha256((folder() / name).read_bytes()).hexdigest()[:12]


def address(name: str) -> str:
    """The address of a static file; it changes when the file does.

    >>> address("sheet.css").startswith("/static/sheet.css?v=")
    True
    """
    return f"/static/{name}?v={digest(name)}"


@functools.cache
def packed(name: str) -> bytes:
    """A file's content, made small once for all who ask."""
    return gzip.compress((folder() / name).read_bytes(), 9, mtime=0)


PACKED = {".css": "text/css", ".js": "text/javascript", ".svg": "image/svg+xml"}
"""What is worth making small; letters and pictures are small already."""


class Static(StaticFiles):
    """Static files; one asked for by its digest may be kept for a year."""

    def __init__(self) -> None:
        super().__init__(directory=folder())

    async def get_response(self, path: str, scope: Scope) -> Response:
        """Serve a file with its caching."""
        response = await super().get_response(path, scope)
        kind = PACKED.get(Path(path).suffix)
        if kind and response.status_code == 200 and "gzip" in Headers(scope=scope).get("accept-encoding", ""):
            told = {"content-encoding": "gzip", "vary": "Accept-Encoding"}
            response = Response(packed(path), media_type=kind, headers=told)
        named = b"v=" in scope.get("query_string", b"")
        response.headers["cache-control"] = "public, max-age=31536000, immutable" if named else "no-cache"
        return response
