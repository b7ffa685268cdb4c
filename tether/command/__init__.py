"""The command line. Standard output is data, standard error is talk; exit codes are few and documented."""

from __future__ import annotations

import io
import os
import sys

from tether.errors import TetherError


def main() -> None:
    """Run the command line; every error of the product ends in its sentences and its exit code."""
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")  # none is used, and looking for them costs time
    from tether.command.commands import tether

    # Readings are many small sums, and more threads only get in each other's way; said before arrays are loaded.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    try:
        tether.main(prog_name="tether", standalone_mode=True)
    except OSError as error:
        sys.stderr.write(f"tether: the system refused: {(error.strerror or str(error)).lower()}.\n")
        sys.exit(4)
    except TetherError as error:
        from tether.report.harmless import plain

        for sentence in error.sentences:
            sys.stderr.write(f"{plain(sentence)}\n")
        sys.exit(error.exit_code)
