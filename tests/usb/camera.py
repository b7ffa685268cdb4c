"""A camera on the mocked bus: the simulated body behind the responder's sessions, reached over USB."""

from __future__ import annotations

import contextlib
import threading
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from tests.body.responder.observed import Observed, observed, operations
from tests.body.responder.rig import LONGEST_S, started_with
from tests.usb.bus import Bus, Named, Plugged
from tests.usb.still_image import RESET, Pipes, answer_of
from tether.body.dialects import Dialect
from tether.body.responder.codes import GoneError, Op
from tether.body.responder.eos import SHUTTER
from tether.body.responder.packets import BrokenError
from tether.body.responder.physics import Physics
from tether.body.responder.server import DIALECTS
from tether.body.responder.session import Session
from tether.body.responder.start import AS_IT_SHOULD, WireHow
from tether.body.responder.watch import Watch


@dataclass(frozen=True, kw_only=True)
class Kind:
    """A kind of camera: what it calls itself on USB, the library's name for it, and what it speaks."""

    model: str
    vendor: int
    product: int
    dialect: Dialect

    def named(self, serial: str | None) -> Named:
        """Return what one such camera calls itself on USB."""
        return Named(vendor=self.vendor, product=self.product, maker="Maker", name="Digital Camera", serial=serial)


#: The library goes by vendor and product; these two it knows without quirks.
EOS = Kind(model="Canon EOS 6D", vendor=0x04A9, product=0x3250, dialect="eos")
NIKON = Kind(model="Nikon DSC D7100", vendor=0x04B0, product=0x0430, dialect="nikon")


class UsbCamera:
    """See the module.

    Parameters
    ----------
    bus
        Where it can be plugged in.
    folder
        Where its card and record are kept.
    kind
        What it is.
    usb_serial
        The serial number that it shows on USB; None: none.
    how
        How it stands.
    leaves_at_reset
        Whether it leaves the bus and comes back when its port is reset; else it keeps its address.
    longest_s
        The longest time of its own [s].
    truth
        Of its world.
    """

    def __init__(
        self,
        bus: Bus,
        folder: Path,
        kind: Kind = EOS,
        *,
        usb_serial: str | None = None,
        how: WireHow = AS_IT_SHOULD,
        leaves_at_reset: bool = False,
        longest_s: float = LONGEST_S,
        **truth: Any,
    ) -> None:
        self.kind = kind
        self.folder = folder
        self._named = kind.named(usb_serial)
        self._bus = bus
        self._leaves = leaves_at_reset
        quick = {"latency": {"apply_s": 0.0, "accept_s": 0.0, "card_s": 0.1}}
        still = {"open_delay_s": 0.0, "close_delay_s": 0.0, "delay_jitter_s": 0.0}
        self.physics = Physics(started_with(folder, kind.dialect, how, longest_s, **(quick | still | truth)))
        self._dialect = DIALECTS[kind.dialect](self.physics)
        self._watch = Watch(self.physics, self._dialect)
        self._over = threading.Event()
        threading.Thread(target=self._watch.until, args=(self._over,), daemon=True).start()
        self.there: Plugged | None = None
        self._pipes: Pipes | None = None
        #: How often its port was reset, by the bus or by the class's own request.
        self.resets = 0
        #: Whether it hears nothing until it is reset, as one that is out of step.
        self.deaf = False

    def offer_no_times(self) -> None:
        """Offer “auto” for a time and nothing else, as bodies of the family do while their dial is on such a mode."""
        auto = replace(self._dialect.properties[SHUTTER], get=lambda: 0, form=lambda: (0,))
        self._dialect.properties[SHUTTER] = auto

    @property
    def port(self) -> str:
        """Where it is, as the camera library writes it; empty while it is unplugged."""
        return self.there.port if self.there else ""

    @property
    def serial(self) -> str:
        """The serial number that it tells over the protocol."""
        return self.physics.serial

    def plug(self, place: str = "1-1", mode: int = 0o666) -> UsbCamera:
        """Plug it in, at a new address."""
        self.there = self._bus.plug(self._named, self, place, mode)
        self._begin()
        return self

    def unplug(self) -> None:
        """Pull its cable out; an open shutter stays open."""
        if self.there:
            self._bus.unplug(self.there)
            self.there = None
        self._drop()

    def stop(self) -> None:
        """Be over."""
        self._over.set()
        self._drop()
        self.physics.record.write()

    def seen(self) -> list[Observed]:
        """Return the exposures as it saw them."""
        self.physics.record.write()
        return observed(self.folder)

    @property
    def opened(self) -> bool:
        """Whether a program has it open now."""
        return self.there is not None and self.there.node.opened

    def settings_written(self) -> int:
        """Return how often one of its settings was set."""
        self.physics.record.write()
        writes = (Op.EOS_SET_PROPERTY, Op.SET_PROPERTY_VALUE)
        return sum(one.code in writes for one in operations(self.folder))

    # Behind its node

    def came(self, data: bytes) -> None:
        if self._pipes and not self.deaf:
            self._pipes.came(data)

    def controlled(self, setup: bytes) -> bytes:
        if setup[1] == RESET and not setup[0] & 0x80 and not self.deaf:
            self._begin_anew()
        return answer_of(setup)

    def reset(self) -> None:
        self.resets += 1
        self.deaf = False
        if self._leaves and self.there:
            place = self.there.place
            self.unplug()
            threading.Timer(0.3, self.plug, (place,)).start()
        else:
            self._begin_anew()

    def _begin_anew(self) -> None:
        if self.there:
            self.there.node.forget()
        self._drop()
        self._begin()

    def _drop(self) -> None:
        if self._pipes:
            self._pipes.drop()
        self._pipes = None

    def _begin(self) -> None:
        if self.there:
            self._pipes = pipes = Pipes(self.there.node)
            threading.Thread(target=self._serve, args=(pipes,), daemon=True).start()

    def _serve(self, pipes: Pipes) -> None:
        self._watch.session = session = Session(pipes, self.physics, self._dialect)
        with contextlib.suppress(EOFError, OSError, BrokenError, GoneError):
            session.serve(lambda _at_ns: None)
