"""Doing it: engine, checks, steering, rehearsals; the process of a run, and the socket by which faces attach to it."""
