"""Marks: the nominal labels people and bodies use, and the exact values they stand for."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Mark:
    """One value of a scale.

    Attributes
    ----------
    label
        What people read and bodies are sent, for example ``1/125``, ``f/11``, ``100``.
    exact
        The value it stands for: seconds, f-number or ISO.
    """

    label: str
    exact: float
