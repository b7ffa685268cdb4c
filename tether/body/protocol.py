"""What a body is to the rest of the program: small protocols, and the records that cross them.

A *body* is synchronous and is owned by one thread of the camera process. The engine talks to a *camera*
(:class:`Camera`), which starts exposures and reports them as events, so that a person can steer meanwhile.

Times are nanoseconds of the clock in force (`_ns`) or seconds (`_s`). None means "not known".
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal, Protocol

#: The time label that asks a body to stay open until it is told to close.
BULB = "bulb"
#: How the finding of a thing begins that the camera does not tell of.
NOT_TOLD = "The camera does not tell of it."

#: A battery with a smaller charge is to be changed before anything else (share of 1).
LEAST_BATTERY = 0.05

#: Most steps of focus in one call, so that it is answered in time.
MOST_NUDGES = 20

Way = Literal["timed", "held"]
#: Who closed a shutter: we as planned, the person, the body by itself, a camera process that was told to end; or it
#: was lost, and it is not known.
ClosedBy = Literal["planned", "person", "body", "camera process", "lost"]
#: What a check comes to: fine, worth knowing, or not to be begun with.
Verdict = Literal["ok", "note", "stop"]


@dataclass(frozen=True, kw_only=True)
class Identity:
    """Who the camera says it is. Empty texts where it does not say."""

    model: str
    serial: str
    firmware: str
    lens: str
    simulated: bool


@dataclass(frozen=True, kw_only=True)
class Settings:
    """What a frame is to be taken with, as labels of the body's own lists; `time` is BULB for a held frame."""

    time: str
    aperture: str
    iso: str


@dataclass(frozen=True, kw_only=True)
class ReadBack:
    """What the body says is in force: its labels, and the exact numbers they stand for.

    A number is None where the body does not tell it, or tells what can't be read; `time_s` also on bulb, where the
    label is BULB.
    """

    settings: Settings
    time_s: float | None
    aperture: float | None
    iso: float | None


@dataclass(frozen=True, kw_only=True)
class Status:
    """What the body tells of itself: battery 0..1, frames the card still holds, temperature [°C].

    `battery_low` says whether it calls its battery low in a word; None where it says no word that is understood.
    """

    battery: float | None
    card_frames_left: int | None
    temperature_c: float | None
    busy: bool
    battery_low: bool | None = None

    @property
    def battery_wanted(self) -> str | None:
        """Why another battery is wanted, in words; None: it is not, as far as the body tells."""
        if self.battery is not None and self.battery < LEAST_BATTERY:
            return f"the battery is at {self.battery:.0%}"
        return "the camera says that its battery is low" if self.battery_low else None


@dataclass(frozen=True, kw_only=True)
class Order:
    """One exposure to make.

    Attributes
    ----------
    frame
        Our own running number.
    command_s
        The time between open and close commands of a held frame, or the body's own time of a timed one [s].
    busy_after_s
        How long the body may be busy afterwards with a dark frame of its own [s].
    """

    frame: int
    way: Way
    command_s: float
    busy_after_s: float = 0.0


@dataclass(frozen=True, kw_only=True)
class ShutterRecord:
    """What is known of one exposure from our side of the cable.

    `open_called_ns`/`open_returned_ns` bracket the command that opened (or triggered), `close_called_ns`/
    `close_returned_ns` the command that closed; for a timed frame the latter two are when the body said it was done.
    `realtime` says whether real-time scheduling was in force; None where it does not matter (timed). `body_said_s` is
    how long the body itself said that it was open, as far as it counted [s]; None where it does not count. `later_ns`
    is by how much later the close was called because the opening command went out so much later in its call than the
    closing one does in its own. `accepted` says whether the body took the command that opens: where it did not answer
    it, the shutter may never have opened.
    """

    frame: int
    way: Way
    asked_s: float
    open_called_ns: int
    open_returned_ns: int
    close_called_ns: int
    close_returned_ns: int
    closed_by: ClosedBy
    realtime: bool | None
    body_said_s: float | None = None
    later_ns: int = 0
    accepted: bool = True

    @property
    def held_s(self) -> float:
        """Time between the open and the close command [s]."""
        return (self.close_called_ns - self.open_called_ns - self.later_ns) / 1e9


@dataclass(frozen=True, kw_only=True)
class CardFile:
    """One frame's file on the body's card.

    `number` is the body's own running number where its name has one; `size` in bytes where it is known; `beside` are
    further files of the same frame (the JPEG beside a raw file).
    """

    folder: str
    name: str
    number: int | None
    size: int | None
    beside: tuple[CardFile, ...] = ()

    @property
    def places(self) -> tuple[tuple[str, str], ...]:
        """Folder and name of every file of the frame."""
        return ((self.folder, self.name), *((one.folder, one.name) for one in self.beside))


@dataclass(frozen=True, kw_only=True)
class LiveOffers:
    """What of live view the body offers: each says in a sentence why not, as far as known; None: it is offered."""

    why_no_picture: str | None
    why_not_magnified: str | None
    why_not_nudged: str | None


_NO_LIVE_VIEW = "Live view is not offered by this body file."
NO_LIVE_VIEW = LiveOffers(why_no_picture=_NO_LIVE_VIEW, why_not_magnified=_NO_LIVE_VIEW, why_not_nudged=_NO_LIVE_VIEW)


@dataclass(frozen=True, kw_only=True)
class LivePicture:
    """What a live picture shows: `times` is how many times it is magnified; 1: the whole, None: not known."""

    times: float | None


@dataclass(frozen=True, kw_only=True)
class Offers:
    """What the body offers as it now stands (dial, mode, lens), as labels of its file.

    `held_by` names the way its shutter can be held open; None: it can't be, and `why_not_held` says why as far as
    known. A list that is empty can't be set from here.
    """

    times: tuple[str, ...]
    apertures: tuple[str, ...]
    isos: tuple[str, ...]
    held_by: str | None
    why_not_held: str | None
    live: LiveOffers = NO_LIVE_VIEW


@dataclass(frozen=True, kw_only=True)
class Finding:
    """One thing looked at before a run: what it is, whether it will do, and a sentence (with what to do if not).

    `says` is what the body itself says of it; None where it says nothing, or it is not a thing of the body's.
    """

    what: str
    verdict: Verdict
    sentence: str
    says: str | None = None


@dataclass(frozen=True, kw_only=True)
class Fitted:
    """A filter in front of the lens, as far as a simulated world must know: its name and nominal strength."""

    name: str
    stops: float


@dataclass(frozen=True, kw_only=True)
class SceneChange:
    """What a person did at the tripod, told to a simulated body only. None: that part is unchanged."""

    fitted: tuple[Fitted, ...] | None = None
    capped: bool | None = None
    knock_px: tuple[float, float] | None = None
    new_battery: bool = False
    new_card: bool = False


class Identifies(Protocol):
    def identify(self) -> Identity:
        """Return who the camera is. Raises CameraError, BusyError, LostError."""


class Settable(Protocol):
    def apply(self, wanted: Settings) -> ReadBack:
        """Set what differs and return what the body reads back, never what was asked.

        Raises CameraError (refused, wrong mode), BusyError, LostError.
        """

    def read_back(self) -> ReadBack:
        """Return what the body says is in force."""

    def put_back(self) -> tuple[str, ...]:
        """Set everything back as it was found in this folder's first session; return in sentences what could not be.

        Raises BusyError while it works on a frame: nothing is forgotten then, and it can be done later. LostError.
        """


class Timed(Protocol):
    def take(self) -> None:
        """Trigger one frame with the time in force and return when the body says it is done."""


class Held(Protocol):
    def prepare(self) -> None:
        """Have everything ready so that the open and close commands are quick; may take a while. Raises as they do."""

    def attend(self, free_until_ns: int | None) -> None:
        """Listen to the body for a moment, so that it stays awake and is heard; never raises for what it does.

        While the shutter is open nothing is begun that could last beyond `free_until_ns`; None: the shutter is shut.
        """

    def close_later_ns(self, open_took_ns: int) -> int:
        """Return by how much later than the calls alone would have it the close is to be called [ns].

        A call may send its command at its end, or at its beginning and then wait; `open_took_ns` is how long the
        opening's call took.
        """

    def said_open_s(self) -> float | None:
        """Return how long the body itself says its last held exposure was open [s]; None where it does not count."""

    def open_shutter(self) -> None:
        """Send the open command (the time must be on BULB); return when it was accepted."""

    def close_shutter(self) -> None:
        """Send the close command; return when it was accepted. Harmless when the shutter is shut."""


class Stores(Protocol):
    def new_files(self, expected: int, allow_s: float) -> tuple[CardFile, ...]:
        """Return the files that appeared since the last call, waiting until `expected` have or `allow_s` has passed."""

    def card_files(self) -> tuple[CardFile, ...]:
        """Return every frame on the card, oldest first. Never called while the shutter is open."""

    def fetch(self, file: CardFile, into: Path) -> int:
        """Write the file's bytes to the path `into` and return how many there were."""


class Tells(Protocol):
    def status(self) -> Status:
        """Return battery, card and temperature as the body tells them."""

    def offers(self) -> Offers:
        """Return what the body offers as it now stands."""

    def look(self) -> tuple[Finding, ...]:
        """Look whether the body stands as a run needs it: mode, focus, drive, card, format."""


class ShowsLive(Protocol):
    """Live view: what the sensor sees while the shutter is shut, so that a person can focus before a dark filter.

    It is on from the first picture or nudge until it is switched off; `apply`, `take`, `prepare`, `put_back` and
    `leave` do so too, since the body needs its shutter then. All raise BusyError while a shutter is open.
    """

    def live(self, into: Path, at: tuple[float, float] | None) -> LivePicture:
        """Write one live picture to the path `into`, as JPEG, switching live view on where it is off.

        Parameters
        ----------
        into
            Where it is written; an older picture is replaced.
        at
            What it is to be magnified around, in shares of width and height of the whole, 0 to 1 from the upper left;
            None: the whole is shown. Near an edge it is what lies next to it. A body that can't magnify shows the
            whole.

        Raises
        ------
        CameraError
            It is not offered, or refused as the body now stands.
        BusyError, LostError
        """

    def live_off(self) -> None:
        """Switch live view off. Harmless when it is off."""

    def nudge_focus(self, steps: int) -> None:
        """Move the focus by small steps of the lens's own, at most `MOST_NUDGES`; negative: nearer, positive: farther.

        Live view is switched on where it is off. How far a step goes is not known beforehand.

        Raises
        ------
        CameraError
            Body or lens can't, as they now stand, or these are too many steps.
        BusyError, LostError
        """


class Body(Identifies, Settable, Timed, Held, Stores, Tells, ShowsLive, Protocol):
    """All that a body can be asked; every body passes the same contract suite."""

    def leave(self) -> None:
        """End the session politely. The body may not be used after."""


class Rehearsable(Protocol):
    def stage(self, change: SceneChange) -> None:
        """Change the simulated world as the person at the tripod would."""


@dataclass(frozen=True, kw_only=True)
class Opened:
    """The shutter was told to open; `closes_at_ns` is when it will be told to close (or the body will be done)."""

    frame: int
    at_ns: int
    closes_at_ns: int


@dataclass(frozen=True, kw_only=True)
class Changed:
    """The moment of closing was moved."""

    frame: int
    closes_at_ns: int


@dataclass(frozen=True, kw_only=True)
class Ended:
    """An exposure is over."""

    frame: int
    opening: ShutterRecord


@dataclass(frozen=True, kw_only=True)
class Failed:
    """An exposure could not be made, or its end is uncertain; `opening` is what is known all the same."""

    frame: int
    kind: str
    sentences: tuple[str, ...]
    opening: ShutterRecord | None


@dataclass(frozen=True, kw_only=True)
class Remark:
    """Something about the camera, as sentences: `text` for whoever watches (empty: for nobody), `kept` for the journal.

    Where `kept` is empty, the journal has `text`. Numbers that tell one person's camera from another's stand in `kept`
    only: faces may be anyone's.
    """

    text: str
    kept: str = ""


class RemarkSink(Protocol):
    """Is handed sentences about a camera; see :class:`Remark`."""

    def __call__(self, text: str, kept: str = "", /) -> None: ...


CameraEvent = Opened | Changed | Ended | Failed | Remark


class Camera(Identifies, Settable, Stores, Tells, ShowsLive, Rehearsable, Protocol):
    """The engine's handle on a body. Exposures are begun here and reported through the inbox as CameraEvents."""

    def begin(self, order: Order) -> None:
        """Start an exposure and return at once. Exactly one of Ended or Failed follows."""

    def change(self, by_s: float) -> None:
        """Move the close of the held exposure in hand later (positive) or sooner; Changed follows if it could be."""

    def close_now(self) -> None:
        """Close the held exposure in hand now and keep the frame; Ended follows."""

    def reach_again(self) -> None:
        """Make contact with a camera that was lost, and see that its shutter is shut; harmless when all is well.

        Raises LostError, CameraError, SupplyError while it cannot be reached.
        """

    def leave(self) -> None:
        """Close the shutter if it is open, end the session, and end the camera process where there is one."""
