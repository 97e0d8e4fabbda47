"""``python -m brinehouse`` and the ``brinehouse`` command."""

import os
import sys

# Our matrices are small: threads inside one product cost far more than they save (measured 3 to 290 times).
# Read by the linear algebra library when it is first loaded, so it is set before anything loads it.
for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")


def main() -> int:
    """Run the command line; answer ``--version`` without loading it."""
    if sys.argv[1:] == ["--version"]:
        from brinehouse._version import __version__

        sys.stdout.write(f"brinehouse {__version__}\n")
        return 0
    from brinehouse.cli import running

    return running.run(sys.argv[1:])


if __name__ == "__main__":
    sys.exit(main())
