"""The command line. Standard output is data, standard error is talk; exit codes are few and documented."""

from __future__ import annotations

import sys

from tether.errors import TetherError


def main() -> None:
    """Run the command line; every error of the product ends in its sentences and its exit code."""
    from tether.command.commands import tether

    try:
        tether.main(prog_name="tether", standalone_mode=True)
    except TetherError as error:
        for sentence in error.sentences:
            sys.stderr.write(f"{sentence}\n")
        sys.exit(error.exit_code)
