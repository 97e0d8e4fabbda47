"""The second writing of the equations stands in ``benchmarks``; tests of both read it from there."""

import pathlib
import sys

ROOT = str(pathlib.Path(__file__).parents[3])
if ROOT not in sys.path:
    sys.path.append(ROOT)
