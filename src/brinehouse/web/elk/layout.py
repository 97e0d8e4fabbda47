"""A graph in, the same graph with coordinates out: layered, right-angled, the same every time.

elkjs runs in a small JavaScript engine inside Python, so one drawing serves phone, paper and terminal and
no layout program goes to the browser. One engine a process, made at the first drawing; each drawing is kept
by the digest of its graph.
"""

from __future__ import annotations

import concurrent.futures
import functools
import hashlib
import importlib.resources
import json
import threading
from collections import OrderedDict
from collections.abc import Mapping
from typing import Any

MEMORY = 256 * 1024 * 1024
STACK = 8 * 1024 * 1024
SECONDS = 20.0
TURNS = 100_000
KEPT = 64
SETTINGS: Mapping[str, str] = {
    "elk.algorithm": "layered",
    "elk.direction": "RIGHT",
    "elk.edgeRouting": "ORTHOGONAL",
    "elk.randomSeed": "1",
}
"""What every drawing asks for; a fixed seed, or the same plant would be drawn anew each time."""

# What a browser would have: a console that says nothing, and timers that wait until they are called below.
SURROUNDINGS = """
var self = globalThis, window = globalThis, __timers = [];
var console = {log() {}, warn() {}, error() {}, info() {}, debug() {}};
function setTimeout(call) { __timers.push(call); return __timers.length; }
function clearTimeout() {}
function __tick() { const due = __timers; __timers = []; due.forEach(call => call()); return due.length; }
"""
CALL = """
var __found = "", __fault = "";
function __layout(text) {
  __found = ""; __fault = "";
  new ELK().layout(JSON.parse(text)).then(
    done => { __found = JSON.stringify(done); },
    fault => { __fault = String(fault && fault.message || fault); });
}
"""


class Unplaceable(Exception):  # noqa: N818 - what the graph is, not a mishap
    """The graph could not be laid out; the text says what the layout program said."""


class Engine:
    """One JavaScript engine with the layout program in it, on a thread of its own with room to recurse."""

    def __init__(self) -> None:
        self._thread = _roomy_thread()
        self._context: Any = self._thread.submit(_context).result()

    def layout(self, text: str) -> str:
        """The graph as JSON text with coordinates; raises `Unplaceable`."""
        return self._thread.submit(self._run, text).result()

    def _run(self, text: str) -> str:
        import quickjs

        self._context.set_time_limit(SECONDS)
        try:
            self._context.get("__layout")(text)
            return self._wait()
        except quickjs.JSException as fault:
            raise Unplaceable(str(fault).splitlines()[0]) from None

    def _wait(self) -> str:
        for _ in range(TURNS):
            while self._context.execute_pending_job():
                pass
            found, fault = self._context.get("__found"), self._context.get("__fault")
            if found:
                return str(found)
            if fault:
                raise Unplaceable(str(fault))
            if not self._context.eval("__tick()"):
                break
        raise Unplaceable("the layout came to no end")


def _context() -> Any:
    """The engine itself; it may only be used on the thread that made it."""
    import quickjs

    program = importlib.resources.files("brinehouse.web.elk").joinpath("elk.bundled.js")
    context: Any = quickjs.Context()
    context.set_memory_limit(MEMORY)
    context.set_max_stack_size(STACK // 2)
    context.eval(SURROUNDINGS)
    context.eval(program.read_text("utf-8"))
    context.eval(CALL)
    return context


def _roomy_thread() -> concurrent.futures.ThreadPoolExecutor:
    """One worker whose stack is large everywhere: some systems give a thread half a megabyte."""
    usual = threading.stack_size()
    try:
        threading.stack_size(STACK)
        pool = concurrent.futures.ThreadPoolExecutor(max_workers=1, thread_name_prefix="layout")
        pool.submit(int).result()  # the worker starts now, while the size holds
    finally:
        threading.stack_size(usual)
    return pool


@functools.cache
def _engine() -> Engine:
    return Engine()


_kept: OrderedDict[str, str] = OrderedDict()
_lock = threading.Lock()


def laid_out(graph: Mapping[str, Any]) -> dict[str, Any]:
    """The graph with ``x``, ``y`` and sections of every edge.

    Parameters
    ----------
    graph : mapping
        In elkjs' JSON form; nodes and ports in the order in which they should be told apart.

    Returns
    -------
    dict
        A fresh copy with coordinates; equal graphs give equal coordinates.

    Raises
    ------
    Unplaceable
        Where an edge ends at nothing, or the layout needs more room or time than it is given.

    Examples
    --------
    >>> node = {"width": 40, "height": 30}
    >>> pair = {"id": "plant", "children": [{"id": "sump", **node}, {"id": "tank", **node}],
    ...         "edges": [{"id": "supply", "sources": ["sump"], "targets": ["tank"]}]}
    >>> sump, tank = laid_out(pair)["children"]
    >>> sump["x"] < tank["x"]
    True
    """
    text = json.dumps({**graph, "layoutOptions": {**SETTINGS, **graph.get("layoutOptions", {})}})
    key = hashlib.sha256(text.encode()).hexdigest()
    with _lock:
        if key in _kept:
            _kept.move_to_end(key)
            return json.loads(_kept[key])
    found = _engine().layout(text)
    with _lock:
        _kept[key] = found
        while len(_kept) > KEPT:
            _kept.popitem(last=False)
    return json.loads(found)
