"""What a simulated camera on the wire is started with."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Field

from tether.body.dialects import Dialect
from tether.body.open import BodyChoice
from tether.body.responder.faults import WireFault
from tether.body.simulated.faults import Part

Mode = Literal["M", "Av"]
Focus = Literal["manual", "af"]


class WireHow(Part):
    """How it stands and what befalls it.

    Attributes
    ----------
    faults
        Troubles of the wire; those of the body are its world's.
    mode
        Where its mode dial stands: "M", or another, where it offers no bulb.
    focus
        Whether its lens is on manual focus ("manual") or not ("af").
    two_files
        Whether a frame is a raw file and a JPEG.
    card
        Whether there is a card in it.
    priority
        Real-time priority (SCHED_FIFO, 1 to 99), so that in measurements it is not what is measured; None: none.
    """

    faults: tuple[WireFault, ...] = ()
    mode: Mode = "M"
    focus: Focus = "manual"
    two_files: bool = False
    card: bool = True
    priority: Annotated[int, Field(ge=1, le=99)] | None = None


#: Dial on M, lens on manual focus, raw files, a card in it, no troubles.
AS_IT_SHOULD = WireHow()


@dataclass(frozen=True, kw_only=True)
class WireStart:
    """What it is.

    Attributes
    ----------
    dialect
        What it speaks; "eos-old" is the older way of that family to hold a shutter.
    choice
        The simulated body behind it, whose folder keeps its card, state and records.
    how
        How it stands and what befalls it.
    """

    dialect: Dialect
    choice: BodyChoice
    how: WireHow = AS_IT_SHOULD
