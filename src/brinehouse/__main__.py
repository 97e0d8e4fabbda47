"""``python -m brinehouse`` and the ``brinehouse`` command."""

import sys


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
