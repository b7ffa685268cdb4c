"""Kept for starts that earlier releases planned: see :mod:`tether.run.later`."""
