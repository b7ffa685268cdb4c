"""Measurements. The outings that are made for them are not remembered: the memory of whoever measures stays theirs."""

import os

os.environ["XDG_DATA_HOME"] = os.devnull
