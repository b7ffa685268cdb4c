"""Troubles of the wire itself; those of the body behind it are the simulated world's."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

What = Literal[
    "drops",
    "asleep",
    "answers late",
    "cut short",
    "garbled",
    "event late",
    "event twice",
    "event never",
    "keeps and tells",
    "busy after",
    "refuses the close",
]
Call = Literal["open", "close", "trigger", "set", "get"]


class WireFault(BaseModel):
    """One trouble.

    ================== ================================================================================================
    what               what happens
    ================== ================================================================================================
    drops              `after_s` into the exposure the connection is reset, and for `for_s` none is accepted
    asleep             from the first connection on none is accepted for `for_s`
    answers late       the call is done at once, and answered `for_s` later
    cut short          an object is sent with its second half missing, and the transfer ended as if it were whole
    garbled            an object is sent in its right length with wrong bytes in it
    event late         that a frame is there is told `for_s` later
    event twice        it is told twice
    event never        it is not told at all
    keeps and tells    a value is not taken, and the old one told as an event
    busy after         after the frame the body is busy for `for_s`
    refuses the close  the call that closes fails, and the shutter stays open
    ================== ================================================================================================

    Attributes
    ----------
    what
        As above.
    at_frame
        The exposure that it strikes, by the body's own count from 1; left out: any.
    at_call
        For "answers late": which call; left out: any of them.
    times
        How often it strikes, or "always".
    after_s, for_s
        Seconds, 0 or more; see above.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    what: What
    at_frame: int | None = Field(default=None, ge=1)
    at_call: Call | None = None
    times: Annotated[int, Field(ge=1)] | Literal["always"] = 1
    after_s: float = Field(default=0.0, ge=0)
    for_s: float = Field(default=0.0, ge=0)


class WireTroubles:
    """The faults of one camera, and how often each has struck."""

    def __init__(self, faults: tuple[WireFault, ...]) -> None:
        self._faults = faults
        self._struck = [0] * len(faults)

    def strikes(self, what: What, frame: int | None = None, call: Call | None = None) -> WireFault | None:
        """Return the fault of this kind that strikes now, counting the strike; None where none does."""
        for place, fault in enumerate(self._faults):
            fits = fault.what == what and fault.at_frame in (None, frame) and fault.at_call in (None, call)
            if fits and (fault.times == "always" or self._struck[place] < fault.times):
                self._struck[place] += 1
                return fault
        return None
