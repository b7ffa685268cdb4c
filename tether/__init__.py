"""Tether: works a ladder of exposures of moving water on a tethered camera and logs what was really applied."""

__version__ = "0.1.0"
