"""Where starts planned by earlier releases, and their units, look for what they call: :mod:`tether.service.scheduler`.

The path ``tether.run.later:start_outing`` is kept in the stores of whoever planned one.
"""

from __future__ import annotations

import sys

from tether.service.scheduler import main, start_outing

__all__ = ["main", "start_outing"]

if __name__ == "__main__":
    sys.exit(main())
