"""The compiled modules once more, as plain Python: small cases run at once, and both can be held together."""

import functools
import importlib
import sys
from types import SimpleNamespace

import brinehouse.network.transients as above
import brinehouse.network.transients.kernel as kernel
from brinehouse.network.transients.kernel import compiling

PARTS = (
    "frames",
    "links",
    "rooms",
    "waters",
    "passing",
    "placing",
    "slopes",
    "stages",
    "crossings",
    "courses",
)
MODULES = (*((kernel, part) for part in PARTS), (above, "running"))


@functools.cache
def load():
    """Every module by its name, none of them compiled; what others import stays as it is."""
    names = [f"{package.__name__}.{part}" for package, part in MODULES]
    kept = {name: sys.modules.pop(name, None) for name in names}
    before = [(package, part, getattr(package, part)) for package, part in MODULES if hasattr(package, part)]
    compiled, compiling.COMPILED = compiling.COMPILED, False
    for package, part, _ in before:
        delattr(package, part)
    try:
        made = {part: importlib.import_module(name) for (_, part), name in zip(MODULES, names, strict=True)}
    finally:
        compiling.COMPILED = compiled
        for (package, part), name in zip(MODULES, names, strict=True):
            sys.modules.pop(name, None)
            if kept[name] is not None:
                sys.modules[name] = kept[name]
            if part in vars(package):
                delattr(package, part)
        for package, part, module in before:
            setattr(package, part, module)
    return SimpleNamespace(**made)


def run(*arguments, **more):
    """`running.run`, none of it compiled."""
    made, before = load(), kernel.courses if hasattr(kernel, "courses") else None
    kernel.courses = made.courses
    try:
        return made.running.run(*arguments, **more)
    finally:
        if before is None:
            del kernel.courses
        else:
            kernel.courses = before
