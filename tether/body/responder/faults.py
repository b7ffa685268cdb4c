"""Troubles of the wire itself; those of the body behind it are the simulated world's.

A trouble of the world that is one of the way there, is the wire's here: see :func:`of_world`.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from tether.body.simulated.faults import Fault, Part

What = Literal[
    "drops",
    "asleep",
    "answers late",
    "answers busy",
    "cut short",
    "garbled",
    "event late",
    "event twice",
    "event never",
    "keeps and tells",
    "keeps silently",
    "busy after",
    "refuses the close",
    "pressed",
]
Call = Literal["open", "close", "trigger", "set", "get", "events"]


class WireFault(Part):
    """One trouble.

    ================== ================================================================================================
    what               what happens
    ================== ================================================================================================
    drops              `after_s` into the exposure the connection is reset, and for `for_s` none is accepted; the
                       shutter stays as it is, unless `shuts`
    asleep             from its start on no connection is accepted for `for_s`
    answers late       the call is done at once, and answered `for_s` later
    answers busy       the call takes `for_s`, is then answered as busy, and has done nothing
    cut short          an object is sent with its second half missing, and the transfer ended as if it were whole
    garbled            an object is sent in its right length with wrong bytes in it
    event late         that a frame is there is told `for_s` later
    event twice        it is told twice
    event never        it is not told at all
    keeps and tells    a value is not taken though the set succeeds, and the old one is told as an event
    keeps silently     a value is not taken though the set succeeds, and nothing is told
    busy after         after the frame the body is busy for `for_s`
    refuses the close  the call that closes fails, and the shutter stays open
    pressed            `after_s` after its start the body's own button is pressed
    ================== ================================================================================================

    Attributes
    ----------
    what
        As above.
    at_frame
        The exposure that it strikes, by the body's own count from 1 (the next one, for a set); left out: any.
    at_call
        For the two about answers: which call ("events" is the asking for them); left out: any of them.
    times
        How often it strikes, or "always".
    after_s, for_s
        Seconds, 0 or more; see above.
    shuts
        For "drops": whether the body shuts its shutter at that.
    """

    what: What
    at_frame: int | None = Field(default=None, ge=1)
    at_call: Call | None = None
    times: Annotated[int, Field(ge=1)] | Literal["always"] = 1
    after_s: float = Field(default=0.0, ge=0)
    for_s: float = Field(default=0.0, ge=0)
    shuts: bool = False


def of_world(fault: Fault) -> WireFault | None:
    """Return a trouble of the world as the one of the wire that it is here; None where it is the body's own."""
    if fault.what == "truncates":
        return WireFault(what="cut short", at_frame=fault.at_frame, times=fault.times)
    calls: dict[str, Call] = {"files": "events", "fetch": "get"}
    if fault.what == "times out" and fault.at_call in calls:
        call = calls[fault.at_call]
        return WireFault(
            what="answers busy", at_frame=fault.at_frame, at_call=call, times=fault.times, for_s=fault.for_s
        )
    return None


class WireTroubles:
    """The faults of one camera, and how often each has struck."""

    def __init__(self, faults: tuple[WireFault, ...]) -> None:
        self._faults = faults
        self._struck = [0] * len(faults)

    def pressed_after_s(self) -> tuple[float, ...]:
        """Return how long after the start the body's own button is pressed [s], each time."""
        return tuple(fault.after_s for fault in self._faults if fault.what == "pressed")

    def strikes(self, what: What, frame: int | None = None, call: Call | None = None) -> WireFault | None:
        """Return the fault of this kind that strikes now, counting the strike; None where none does."""
        for place, fault in enumerate(self._faults):
            fits = fault.what == what and fault.at_frame in (None, frame) and fault.at_call in (None, call)
            if fits and (fault.times == "always" or self._struck[place] < fault.times):
                self._struck[place] += 1
                return fault
        return None
