"""Findings of checks, by what they come to."""

from __future__ import annotations

from tether.body.protocol import Finding


def ok(what: str, sentence: str) -> Finding:
    """Return a finding that all is well."""
    return Finding(what=what, verdict="ok", sentence=sentence)


def note(what: str, sentence: str) -> Finding:
    """Return a finding that is worth knowing."""
    return Finding(what=what, verdict="note", sentence=sentence)


def stop(what: str, sentence: str) -> Finding:
    """Return a finding that is not to be begun with."""
    return Finding(what=what, verdict="stop", sentence=sentence)
