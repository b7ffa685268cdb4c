"""The simulated body behind the wire: commands with the moment at which they arrived, and the record of them.

One lock guards all of it: the connection's thread commands, a second one looks for frames that have come onto the card.
"""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, Literal, TypeVar

from tether.body.protocol import BULB, SceneChange, Settings
from tether.body.responder.card import Card
from tether.body.responder.codes import GoneError, RefusedError, Response
from tether.body.responder.faults import Call, WireTroubles, of_world
from tether.body.responder.start import Focus, Mode, WireStart
from tether.body.simulated.body import SimulatedBody
from tether.body.simulated.world import World
from tether.clock import AffineClock, to_ns
from tether.errors import BusyError, LostError, SupplyError, TetherError
from tether.exposure.abilities import Abilities, Dial
from tether.files.errors import disk_sentences

T = TypeVar("T")

RECORD_NAME = "observer.jsonl"
#: How long a finger stays on the body's own button [s].
_PRESSED_S = 0.2

Turned = Literal["taken", "kept and told", "kept in silence"]
By = Literal["command", "by hand"]


class Recorder:
    """Writes the observer's record: what was commanded when, by the moment at which the command had arrived here.

    Lines wait until :meth:`write`, once the reply was sent, so that the record delays nothing. Moments are of the
    monotonic clock. When the shutter moved and what was really in force stands in the body's own record beside it
    (`openings.jsonl`). Any thread may use it.
    """

    def __init__(self, folder: Path) -> None:
        self._path = folder / RECORD_NAME
        self._lines: list[str] = []
        self._lock = threading.Lock()

    def add(self, what: str, **facts: Any) -> None:
        """Note a line."""
        with self._lock:
            self._lines.append(json.dumps({"what": what, **facts}) + "\n")

    def write(self) -> None:
        """Write the lines that wait."""
        with self._lock:
            if self._lines:
                with disk_sentences(self._path), self._path.open("a", encoding="utf-8") as file:
                    file.write("".join(self._lines))
                self._lines.clear()


class Physics:
    """See the module.

    Parameters
    ----------
    start
        What the camera is.
    """

    def __init__(self, start: WireStart) -> None:
        world = start.choice.world or World()
        moved = [fault for fault in map(of_world, world.faults) if fault is not None]
        faults = tuple(fault for fault in world.faults if of_world(fault) is None)
        self.world = world.model_copy(update={"faults": faults})
        self.abilities: Abilities = start.choice.abilities
        self.troubles = WireTroubles((*start.how.faults, *moved))
        self.lock = threading.RLock()
        self.record = Recorder(start.choice.folder)
        self.mode: Mode = start.how.mode
        self.focus: Focus = start.how.focus
        self.has_card = start.how.card
        #: When a fault is to drop the connection, and until when none is accepted [ns of the monotonic clock].
        self.drop_at_ns: int | None = None
        self.away_until_ns = 0
        # On the real clock, whose nanoseconds are those of the moments at which commands arrive.
        self._body = SimulatedBody(self.abilities, self.world, start.choice.folder, AffineClock())
        self.card = Card(
            self._body, start.choice.folder / "wire", self.troubles, self.lock, two_files=start.how.two_files
        )
        self._shuts_when_dropped = False
        self._exposing: int | None = None
        self._busy_until_ns = 0

    # What it says of itself

    @property
    def serial(self) -> str:
        """Its serial number, which tells one such camera from another."""
        return f"WIRE{self.world.seed}"

    @property
    def lens(self) -> str:
        """What the lens is called."""
        return self._answered(self._body.identify).lens

    @property
    def made(self) -> int:
        """The number of the last exposure."""
        return self._body.made

    def settings(self) -> Settings:
        """Return what the body shows as set."""
        return self._answered(self._body.read_back).settings

    def on_bulb(self) -> bool:
        """Say whether it would hold its shutter if it were told to open it."""
        return self._body.in_force.time == BULB

    def offers_bulb(self) -> bool:
        """Say whether bulb is among its times as its dial stands."""
        return bool(self.abilities.can_hold) and self.mode == "M"

    def battery(self) -> int:
        """Return the charge in percent."""
        return round(100 * (self._answered(self._body.status).battery or 0.0))

    def frames_left(self) -> int:
        """Return how many frames the card still holds."""
        left = self._answered(self._body.status).card_frames_left or 0
        return max(left, 0) if self.has_card else 0

    # Setting

    def turn(self, dial: Dial, label: str, at_ns: int) -> Turned:
        """Set one value, and return what came of it. Raises RefusedError."""
        with self.lock:
            self._require_idle()
            if label == BULB and not self.offers_bulb():
                raise RefusedError(Response.INVALID_VALUE)
            if self.troubles.strikes("keeps and tells", self.made + 1):
                return "kept and told"
            if self.troubles.strikes("keeps silently", self.made + 1):
                return "kept in silence"
            self._answered(lambda: self._body.turn(dial, label), refused=Response.INVALID_VALUE)
            self.record.add("set", at_ns=at_ns, dial=dial, label=label)
            return "taken"

    # Exposing

    def held_s(self) -> float | None:
        """Return how long the shutter has been held open by now [s]; None where it is not."""
        with self.lock:
            return self._body.held_s()

    @property
    def held_open(self) -> bool:
        """Whether a shutter is held open."""
        return self.held_s() is not None

    def busy(self) -> bool:
        """Whether a frame is being exposed or worked on, or the body is busy otherwise."""
        with self.lock:
            self._see_the_end()
            if self._exposing is not None or time.monotonic_ns() < self._busy_until_ns:
                return True
            return self._answered(self._body.status).busy

    def expose(self, at_ns: int, *, by: By = "command", to_card: bool = True) -> None:
        """Begin a frame: a timed one, or on bulb one that is held until :meth:`close`. Raises RefusedError."""
        with self.lock:
            self._require_idle()
            if to_card and not self.has_card:
                raise RefusedError(Response.STORE_NOT_AVAILABLE)
            held = self.on_bulb()
            if held and self.mode != "M":
                raise RefusedError(Response.GENERAL_ERROR)
            act = self._body.open_shutter if held else self._body.trigger
            self._answered(lambda: act(at_ns), refused=Response.GENERAL_ERROR)
            self._exposing = frame = self.made
            self.record.add("opened", at_ns=at_ns, frame=frame, held=held, by=by)
            if not to_card:
                self.card.keep_in_memory(frame)
            if fault := self.troubles.strikes("drops", frame):
                self.drop_at_ns = at_ns + to_ns(fault.after_s)
                self.away_until_ns = self.drop_at_ns + to_ns(fault.for_s)
                self._shuts_when_dropped = fault.shuts

    def close(self, at_ns: int) -> bool:
        """Close a held shutter; False where none is. Raises RefusedError."""
        with self.lock:
            if not self.held_open:
                return False
            frame = self.made
            if self.troubles.strikes("refuses the close", frame):
                raise RefusedError(Response.GENERAL_ERROR)
            self._answered(lambda: self._body.close_shutter(at_ns), refused=Response.GENERAL_ERROR)
            self.record.add("closed", at_ns=at_ns, frame=frame)
            return True

    def frame_of(self, call: Call | None, handle: int) -> int:
        """Return the number of the exposure that a call is about: the next one, the last one, or that of a file."""
        if call == "get":
            return self.card.number_of(handle)
        return self.made + (call in ("open", "trigger", "set"))

    def watch(self) -> None:
        """Note what has come to an end by itself."""
        with self.lock:
            self._see_the_end()

    def dropped(self) -> None:
        """Have the connection gone, and the shutter as the fault has it."""
        with self.lock:
            self.drop_at_ns = None
            if self._shuts_when_dropped:
                self._body.close_shutter(time.monotonic_ns())

    def _require_idle(self) -> None:
        self._see_the_end()
        if self._exposing is not None or time.monotonic_ns() < self._busy_until_ns:
            raise RefusedError(Response.BUSY)

    def _see_the_end(self) -> None:
        """Note that an exposure is over, however it ended."""
        if self._body.shutter() is not None:
            self._exposing = self.made
        elif self._exposing is not None:
            if fault := self.troubles.strikes("busy after", self._exposing):
                self._busy_until_ns = time.monotonic_ns() + to_ns(fault.for_s)
            self._exposing = None

    # Live view

    @property
    def shows_live(self) -> bool:
        """Whether live view is on."""
        return self._body.shows_live

    def live_jpeg(self, at: tuple[float, float] | None) -> bytes:
        """Return a live picture, see :class:`~tether.body.protocol.ShowsLive`. Raises RefusedError."""
        return self._answered(lambda: self._body.live_jpeg(at))

    def switch_live(self, *, on: bool) -> None:
        """Switch live view on or off. Raises RefusedError."""
        self._answered(self._body.live_on if on else self._body.live_off)

    def nudge_focus(self, steps: int, *, refused: Response) -> None:
        """Move the focus, which a lens on manual focus does not. Raises RefusedError."""
        if self.focus == "manual":
            raise RefusedError(refused)
        self._answered(lambda: self._body.nudge_focus(steps))

    # The person, and trouble

    def stage(self, change: SceneChange) -> None:
        """Change the world as the person at the tripod would."""
        with self.lock:
            self.has_card |= change.new_card
            self._body.stage(change)

    def press(self) -> None:
        """Press the body's own button, and on bulb let it go again; nothing where the body takes no frame."""
        try:
            self.expose(time.monotonic_ns(), by="by hand")
            if self.held_open:
                time.sleep(_PRESSED_S)
                self.close(time.monotonic_ns())
        except (RefusedError, GoneError):
            pass
        self.record.write()

    def gone(self) -> bool:
        """Whether the body does not answer at all now."""
        with self.lock:
            return not self._body.answers()

    def _answered(self, ask: Callable[[], T], *, refused: Response = Response.BUSY) -> T:
        """Return what the body answers; `refused` is the response where it will not. Raises GoneError, RefusedError."""
        with self.lock:
            if not self._body.answers():
                raise GoneError
            try:
                return ask()
            except BusyError as error:
                raise RefusedError(Response.BUSY) from error
            except SupplyError as error:
                raise RefusedError(Response.STORE_FULL) from error
            except LostError as error:
                raise GoneError from error
            except TetherError as error:
                raise RefusedError(refused) from error
