"""Doing it: engine, checks, steering, rehearsals. The names here are for use as a library."""

from tether.run.prepare import Prepared, prepare
from tether.run.rehearse import Rehearsal, Rehearsed, rehearse

__all__ = ["Prepared", "Rehearsal", "Rehearsed", "prepare", "rehearse"]
