"""Going on with an outing's last ladder from the desk: the command that does it, for a face begins no run itself."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path


def resumed(outing: Path) -> str:
    """Go on with an outing's last ladder, as `tether run` does; return why that was not done, empty where it was."""
    command = (sys.executable, "-P", "-m", "tether.command", "run", str(outing), "--detach")
    pipe = subprocess.PIPE
    done = subprocess.run(  # noqa: S603 - our own
        command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=pipe, check=False, text=True
    )
    if not done.returncode:
        return ""
    return " ".join(done.stderr.split()) or "The ladder was not resumed, and why is not known."
