"""Troubles that a simulated body can be told to have, and which of them strikes when."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from tether.exposure.abilities import Dial

What = Literal[
    "busy",
    "times out",
    "refuses",
    "takes another",
    "keeps the old",
    "delivers late",
    "truncates",
    "vanishes",
    "card full",
    "battery dies",
    "shuts early",
    "opens late",
]
Call = Literal["apply", "take", "open", "close", "files", "fetch"]


class Part(BaseModel):
    """A table of a world, or of how a camera on the wire stands, which takes no key that is not named."""

    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)


class Fault(Part):
    """One trouble.

    ============== ====================================================================================================
    what           what happens
    ============== ====================================================================================================
    busy           `apply`, `take` or `open` finds the body busy, and so it is for `for_s`
    times out      the call takes `for_s`, then fails as busy, and has done nothing
    refuses        a new value of `setting` is refused
    takes another  the next mark of `setting` is taken instead, and read back
    keeps the old  the old value of `setting` stays in force, but the new one is read back
    delivers late  the frame appears on the card `for_s` later than it would
    truncates      a fetch brings only the first part of the file
    vanishes       `after_s` into the exposure the body leaves the bus for `for_s`; the shutter stays as it is
    card full      `take` and `open` find the card full
    battery dies   the battery dies `after_s` into the exposure, which ends it; nothing is answered until it is changed
    shuts early    the body shuts a shutter that is held open by itself, `after_s` into the exposure, and says nothing
    opens late     the command that opens is acted on, and answered, `for_s` late
    ============== ====================================================================================================

    Attributes
    ----------
    what
        As above.
    at_frame
        The exposure that it strikes, by the body's own count from 1 (the next one, for `apply`); left out: any.
    at_call
        For `busy` and `times out`: the call that it strikes; "any" is the first that comes.
    setting
        For the three about settings: which; "any" is the first that changes.
    times
        How often it strikes, or "always".
    after_s, for_s
        Seconds, 0 or more; see above.
    """

    what: What
    at_frame: int | None = Field(default=None, ge=1)
    at_call: Call | Literal["any"] = "any"
    setting: Dial | Literal["any"] = "any"
    times: Annotated[int, Field(ge=1)] | Literal["always"] = 1
    after_s: float = Field(default=0.0, ge=0)
    for_s: float = Field(default=0.0, ge=0)

    def _fits(self, what: What, frame: int, call: Call | None, setting: Dial | None) -> bool:
        return (
            self.what == what
            and self.at_frame in (None, frame)
            and (call is None or self.at_call in ("any", call))
            and (setting is None or self.setting in ("any", setting))
        )


class Troubles:
    """The faults of a world and how often each has struck; the count is kept with the body's state.

    Parameters
    ----------
    faults
        The faults, in the order in which they are looked at.
    struck
        How often each has struck so far, by its place in `faults`; changed in place.
    """

    def __init__(self, faults: tuple[Fault, ...], struck: dict[int, int]) -> None:
        self._faults = faults
        self._struck = struck

    def strikes(self, what: What, *, frame: int, call: Call | None = None, setting: Dial | None = None) -> Fault | None:
        """Return the fault of this kind that strikes now, counting the strike; None where none does."""
        for place, fault in enumerate(self._faults):
            struck = self._struck.get(place, 0)
            if fault._fits(what, frame, call, setting) and (fault.times == "always" or struck < fault.times):
                self._struck[place] = struck + 1
                return fault
        return None
