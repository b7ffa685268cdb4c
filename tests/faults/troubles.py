"""The troubles that a ladder on the wire is put through, by name; each with what may come of it.

At exposure 8 the first held rung is taken, at 4 a timed one.
"""

from __future__ import annotations

import signal
from dataclasses import dataclass

from tests.faults.wire import LONG, SHORT, Strike, Times
from tether.body.responder.faults import WireFault
from tether.body.responder.start import AS_IT_SHOULD, WireHow
from tether.body.simulated.faults import Fault


@dataclass(frozen=True, kw_only=True)
class Trouble:
    """One trouble: of the body, of the wire, or how the camera stands; `may_stop` where none could go on by itself."""

    body: tuple[Fault, ...] = ()
    wire: tuple[WireFault, ...] = ()
    how: WireHow = AS_IT_SHOULD
    times: Times = SHORT
    strike: Strike | None = None
    gone_on_with: bool = False
    may_stop: bool = False


HELD, TIMED = 8, 4

TROUBLES: dict[str, Trouble] = {
    "none": Trouble(),
    "raw and JPEG": Trouble(how=WireHow(two_files=True)),
    # The body's own
    "busy on setting": Trouble(body=(Fault(what="busy", at_call="apply", at_frame=TIMED, for_s=1.5),)),
    "busy on triggering": Trouble(body=(Fault(what="busy", at_call="take", at_frame=TIMED, for_s=1.5),)),
    "busy on opening": Trouble(body=(Fault(what="busy", at_call="open", at_frame=HELD, for_s=1.5),)),
    "setting fails once": Trouble(body=(Fault(what="times out", at_call="apply", at_frame=TIMED),)),
    "close fails once": Trouble(body=(Fault(what="times out", at_call="close", at_frame=HELD),)),
    "refuses an aperture": Trouble(body=(Fault(what="refuses", setting="aperture", at_frame=HELD),)),
    "takes another ISO": Trouble(body=(Fault(what="takes another", setting="iso", at_frame=TIMED),)),
    "keeps the old time, says the new": Trouble(body=(Fault(what="keeps the old", setting="time", at_frame=TIMED),)),
    "keeps the old ISO, says the new": Trouble(body=(Fault(what="keeps the old", setting="iso", at_frame=TIMED),)),
    "delivers late": Trouble(body=(Fault(what="delivers late", at_frame=TIMED, for_s=4.0),)),
    "file cut short": Trouble(body=(Fault(what="truncates", at_frame=TIMED),)),
    "gone in a timed frame": Trouble(body=(Fault(what="vanishes", at_frame=7, after_s=0.1, for_s=3.0),)),
    "gone in a held frame": Trouble(body=(Fault(what="vanishes", at_frame=10, after_s=0.3, for_s=4.0),)),
    "card full": Trouble(body=(Fault(what="card full", at_frame=TIMED),)),
    "battery dies in a held frame": Trouble(
        body=(Fault(what="battery dies", at_frame=HELD, after_s=0.2),), may_stop=True
    ),
    "shuts by itself": Trouble(body=(Fault(what="shuts early", at_frame=HELD + 1, after_s=0.15),)),
    "acts late on the opening": Trouble(body=(Fault(what="opens late", at_frame=HELD, for_s=2.0),)),
    "gone early in a long timed frame": Trouble(
        times=LONG, body=(Fault(what="vanishes", at_frame=4, after_s=1.0, for_s=1.5),)
    ),
    "delivers later than it is waited for": Trouble(body=(Fault(what="delivers late", at_frame=TIMED, for_s=75.0),)),
    "a held frame's file never comes whole, then gone on with": Trouble(
        wire=(WireFault(what="cut short", at_frame=10, times="always"),), gone_on_with=True
    ),
    # The camera process's
    "process told to end in a hold": Trouble(strike=Strike(sent=signal.SIGTERM, at="opened", rung=10, after_s=0.2)),
    "process killed in a hold": Trouble(strike=Strike(sent=signal.SIGKILL, at="opened", rung=10, after_s=0.4)),
    "process killed between close and file": Trouble(strike=Strike(sent=signal.SIGKILL, at="over", rung=9)),
    # The wire's
    "reset in a timed frame": Trouble(wire=(WireFault(what="drops", at_frame=7, after_s=0.1, for_s=2.0),)),
    "reset in a held frame": Trouble(wire=(WireFault(what="drops", at_frame=10, after_s=0.3, for_s=3.0),)),
    "reset between frames": Trouble(wire=(WireFault(what="drops", at_frame=TIMED, after_s=0.6, for_s=2.0),)),
    "file garbled": Trouble(wire=(WireFault(what="garbled", at_frame=TIMED),)),
    "event late": Trouble(wire=(WireFault(what="event late", at_frame=TIMED, for_s=3.0),)),
    "event twice": Trouble(wire=(WireFault(what="event twice", at_frame=TIMED),)),
    "event never": Trouble(wire=(WireFault(what="event never", at_frame=TIMED),)),
    "keeps the old value and tells": Trouble(wire=(WireFault(what="keeps and tells", at_frame=TIMED),)),
    "keeps the old value silently": Trouble(wire=(WireFault(what="keeps silently", at_frame=TIMED),)),
    "keeps the old time silently on a hold": Trouble(wire=(WireFault(what="keeps silently", at_frame=HELD),)),
    "keeps the old time silently on every hold": Trouble(
        wire=tuple(WireFault(what="keeps silently", at_frame=n, times=1) for n in range(HELD, HELD + 9)), may_stop=True
    ),
    "reset early in a long timed frame": Trouble(
        times=LONG, wire=(WireFault(what="drops", at_frame=4, after_s=1.0, for_s=1.5),)
    ),
    "its own button pressed": Trouble(wire=(WireFault(what="pressed", after_s=4.0),)),
    "busy for long after a frame": Trouble(wire=(WireFault(what="busy after", at_frame=HELD, for_s=6.0),)),
    "setting answered too late": Trouble(
        wire=(WireFault(what="answers late", at_call="set", at_frame=TIMED, for_s=3.0),)
    ),
    "trigger answered too late": Trouble(
        wire=(WireFault(what="answers late", at_call="trigger", at_frame=TIMED, for_s=3.0),)
    ),
    "opening answered too late": Trouble(
        wire=(WireFault(what="answers late", at_call="open", at_frame=HELD, for_s=3.0),)
    ),
    "close answered too late": Trouble(
        wire=(WireFault(what="answers late", at_call="close", at_frame=HELD, for_s=3.0),)
    ),
    "file answered too late": Trouble(wire=(WireFault(what="answers late", at_call="get", for_s=3.0),)),
    "refuses the close once": Trouble(wire=(WireFault(what="refuses the close", at_frame=HELD),)),
    # How it stands
    "dial off M": Trouble(how=WireHow(mode="Av"), may_stop=True),
    "lens on AF": Trouble(how=WireHow(focus="af"), may_stop=True),
}
