"""The compiled modules once more, as plain Python: small cases run at once, and both can be held together."""

import functools
import importlib
import sys
from types import SimpleNamespace

import brinehouse.network.transients as package
from brinehouse.network.transients import compiling

PARTS = (
    "frames", "links", "rooms", "waters", "passing", "placing", "slopes", "stages", "crossings", "courses",
    "running",
)  # fmt: skip


@functools.cache
def load():
    """Every module by its name, none of them compiled; what others import stays as it is."""
    names = [f"{package.__name__}.{part}" for part in PARTS]
    kept = {name: sys.modules.pop(name, None) for name in names}
    before = {part: getattr(package, part) for part in PARTS if hasattr(package, part)}
    compiled, compiling.COMPILED = compiling.COMPILED, False
    for part in before:
        delattr(package, part)
    try:
        made = {part: importlib.import_module(name) for part, name in zip(PARTS, names, strict=True)}
    finally:
        compiling.COMPILED = compiled
        for part, name in zip(PARTS, names, strict=True):
            sys.modules.pop(name, None)
            if kept[name] is not None:
                sys.modules[name] = kept[name]
            if part in vars(package):
                delattr(package, part)
        for part, module in before.items():
            setattr(package, part, module)
    return SimpleNamespace(**made)


def run(*arguments, **more):
    """`running.run`, none of it compiled."""
    made, before = load(), package.courses if hasattr(package, "courses") else None
    package.courses = made.courses
    try:
        return made.running.run(*arguments, **more)
    finally:
        if before is None:
            del package.courses
        else:
            package.courses = before
