"""A way for the tests of this folder, and of the pages, to import their neighbours."""

import pathlib
import sys

sys.path.insert(0, str(pathlib.Path(__file__).parent))
