"""A real body: the body's protocol on a session with the camera library. Owned by one thread of the camera process.

The library never says whether the shutter is open, so that is kept here: `shut`, `open`, or `unknown` after a session
that was not ended by us. A session that is gone is replaced where the engine reaches for the camera again, and while
the shutter is open, long before its close is due.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Literal

from tether.body.driver import found
from tether.body.driver.arrivals import Arrivals
from tether.body.driver.dials import OneDial, dials_of
from tether.body.driver.errors import BUSY, NO_MODEL, REFUSED, TIMEOUT, UNKNOWN_PORT, LibraryError, for_person
from tether.body.driver.live import LiveView
from tether.body.driver.looking import findings, set_up
from tether.body.driver.profile import Link
from tether.body.driver.reading import matches
from tether.body.driver.recording import Recording
from tether.body.driver.recovery import Recovery
from tether.body.driver.refusal import battery_of, count_of, why_refused
from tether.body.driver.release import HeldRelease, usable
from tether.body.driver.sending import Sendings
from tether.body.driver.session import Session, library_version
from tether.body.protocol import (
    BULB,
    CardFile,
    Finding,
    Identity,
    LivePicture,
    Offers,
    ReadBack,
    RemarkSink,
    SceneChange,
    Settings,
    Status,
)
from tether.body.staging import tell_stage
from tether.clock import Clock, to_ns
from tether.errors import BusyError, CameraError, LostError, TetherError
from tether.exposure.abilities import DIALS, Abilities, Dial

#: A body may apply a value late: it is read again for so long, so often [s].
LATE_S = 2.0
AGAIN_S = 0.05
#: A body that is busy may call it a refusal: what it offers is set again for so long, so often [s].
REFUSED_S = 4.0
REFUSED_AGAIN_S = 0.25
#: Reaching for a body whose session is gone may last this long; it is not begun with less time left than this [s].
RECOVERY_S = 25.0
#: A session is not given up again for a frame that is missing before so long has passed [s].
LISTED_ANEW_EVERY_S = 60.0
#: Draining the body's events before something begins lasts no longer than this [s].
DRAIN_S = 2.0

_LEFT = "The session with the camera is over; connect anew."
_NOT_BULB = "The time is not on bulb, so the shutter can't be held open; it is set to"
_NO_HOLD = "This camera's shutter can't be held open from here: no way of its body file is there."


class DriverBody:
    """A body behind the camera library; see the module.

    Parameters
    ----------
    abilities
        What its body file says it can do; its labels are ours.
    link
        How it is reached and spoken to.
    folder
        Where it is kept what it was found set to.
    clock
        The real clock: the library waits in real time.
    tell
        Is handed sentences for the log.

    Raises
    ------
    TetherError
        It can't be reached.
    """

    def __init__(self, abilities: Abilities, link: Link, folder: Path, clock: Clock, tell: RemarkSink) -> None:
        self._abilities = abilities
        self._link = link
        self._folder = folder
        self._clock = clock
        self._tell = tell
        self._recovery = Recovery(link, folder, tell)
        self._sendings = Sendings()
        self._recording = Recording(link.recorded_at)
        self._live = LiveView(link.profile.live, abilities.sensor_px)
        self._arrivals = Arrivals(link.profile, clock)
        self._shutter: Literal["shut", "open", "unknown"] = "unknown"
        self._close_failed = False
        self._gone = False
        self._left = False
        self._is_set_up = False
        self._heard_ns = clock.now_ns()
        self._lists_anew_from_ns = clock.now_ns()
        with self._sentences():
            session = self._recovery.first_session()
            try:
                self._begin(session)
                with _later_if_busy():
                    self._set_up()
            except (LibraryError, TetherError):
                session.end()  # one that stays open keeps the body from the next
                raise

    def _begin(self, session: Session) -> None:
        """Take a new session into use."""
        profile = self._link.profile
        self._session = session
        self._gone = False
        self._dials: dict[Dial, OneDial] = dials_of(session, profile, self._abilities)
        self._held: HeldRelease | None = None
        self._arrivals.use(session)
        self._live.use(session)
        with _later_if_busy():
            self._way()

    def _way(self) -> HeldRelease | None:
        """Return how the shutter is held; None where it can't be. What a busy body did not tell is asked again.

        Raises LibraryError where it is not told now either.
        """
        if self._held is None and (way := usable(self._session, self._link.profile.release)):
            self._held = HeldRelease(self._session, way, self._tell, self._sendings)
        return self._held

    def _set_up(self) -> None:
        """Keep what the body is set to, and set it up; once. Raises LibraryError."""
        if not self._is_set_up:
            entries = [dial.entry for dial in self._dials.values() if dial.entry is not None]
            before = {name: self._session.read(name).text for name in entries}
            found.keep(self._folder, before | set_up(self._session, self._link.profile))
            self._recording.entries(self._session)
            self._is_set_up = True

    @contextmanager
    def _sentences(self) -> Iterator[None]:
        """Turn what the library reports into what the person is told; keep whether the session is gone."""
        try:
            yield
        except LibraryError as error:
            self._gone = self._gone or error.gone
            raise for_person(error) from error

    @contextmanager
    def _asked(self) -> Iterator[None]:
        """The same around a request that needs a session."""
        self._require_session()
        with self._sentences():
            self._set_up()
            yield

    def _require_session(self) -> None:
        if self._left:
            raise LostError(_LEFT)
        if self._gone:
            raise LostError("The camera no longer answers. Look at cable, battery and body.")

    # Who and how it is

    def identify(self) -> Identity:
        with self._asked():
            tell = self._link.profile.tell
            return Identity(
                model=self._session.model,
                serial=self._session.told(tell.serial),
                firmware=self._session.told(("deviceversion",)),
                lens=self._session.told(tell.lens),
                simulated=self._abilities.simulated,
            )

    def status(self) -> Status:
        with self._asked():
            tell = self._link.profile.tell
            battery, low = battery_of(self._session.told(tell.battery), self._link.profile)
            return Status(
                battery=battery,
                card_frames_left=count_of(self._session.told(tell.frames_left)),
                temperature_c=None,
                busy=self._shutter == "open",
                battery_low=low,
            )

    def offers(self) -> Offers:
        with self._asked():
            bulb = self._dials["time"].bulb_text()
            held = way.way.name if (way := self._way()) and bulb is not None else None
            return Offers(
                times=self._dials["time"].labels(),
                apertures=self._dials["aperture"].labels(),
                isos=self._dials["iso"].labels(),
                held_by=held,
                why_not_held=None if held else self._why_not_held(),
                live=self._live.offers(),
            )

    def _why_not_held(self) -> str:
        if self._held is None:
            return _NO_HOLD
        return "Bulb is not among the times it offers with its dial where it is: turn it to M, or to B."

    def look(self) -> tuple[Finding, ...]:
        with self._asked():
            found_out = findings(self._session, self._link.profile)
        return (self._model_finding(), *found_out)

    def _model_finding(self) -> Finding:
        model, profile = self._session.model, self._link.profile
        fits = matches(model, profile.models) or self._calls_itself_so(profile.models)
        return Finding(
            what="body file",
            verdict="ok" if fits else "stop",
            sentence=f"{self._abilities.name}, for {model}; {library_version()}."
            if fits
            else f"This is a {model}, and {self._abilities.name} is the file of {', '.join(profile.models)}: name the"
            " file of this body in the plan (body.file).",
        )

    def _calls_itself_so(self, models: tuple[str, ...]) -> bool:
        """Say whether it calls itself by one of these; on a network the library's name is that of a whole family."""
        own = self._session.told(("cameramodel",)) if self._link.model else ""
        return bool(own) and (matches(own, models) or any(one.casefold().endswith(own.casefold()) for one in models))

    # Settings

    def apply(self, wanted: Settings) -> ReadBack:
        with self._asked():
            self._make_sure_shut()
            self._live.off()
            for dial in DIALS:
                self._set(dial, getattr(wanted, dial))
            read = self._read_back()
            until_ns = self._clock.now_ns() + to_ns(LATE_S)
            while not _agrees(read.settings, wanted) and self._clock.now_ns() < until_ns:
                self._arrivals.listen(AGAIN_S)
                read = self._read_back()
            self._learn_format()
            return read

    def _set(self, dial: Dial, label: str) -> None:
        """Set one value. A refusal of what the body offers may mean that it is busy: it is tried for a while."""
        until_ns = self._clock.now_ns() + to_ns(REFUSED_S)
        while True:
            try:
                return self._dials[dial].write(label)
            except LibraryError as error:
                if error.code not in REFUSED or self._clock.now_ns() > until_ns:
                    raise
            self._arrivals.drain(AGAIN_S)
            self._clock.wait_until(self._clock.now_ns() + to_ns(REFUSED_AGAIN_S))

    def read_back(self) -> ReadBack:
        with self._asked():
            return self._read_back()

    def _read_back(self) -> ReadBack:
        labels, numbers = zip(*(self._dials[dial].read() for dial in DIALS), strict=True)
        time, aperture, iso = labels
        time_s, f_number, speed = numbers
        settings = Settings(time=time, aperture=aperture, iso=iso)
        return ReadBack(settings=settings, time_s=time_s, aperture=f_number, iso=speed)

    def _learn_format(self) -> None:
        """Learn how many files a frame will be."""
        profile = self._link.profile
        text = self._session.told(profile.tell.format)
        self._arrivals.each = 2 if text and matches(text, profile.frames.two_files) else 1

    def put_back(self) -> tuple[str, ...]:
        failed = []
        with self._asked():
            self._require_shut()
            self._live.off()
            for name, text in found.kept(self._folder).items():
                try:
                    if self._session.read(name).text != text:
                        self._session.write(name, text, f"set its {name} back to {text}")
                except LibraryError as error:
                    if error.gone or error.code == BUSY:
                        raise
                    failed.append(f"The camera's {name} could not be set back to {text}; it is left as it is.")
        found.forget(self._folder)
        return tuple(failed)

    # Exposing

    def take(self) -> None:
        self._require_session()
        self._make_sure_shut()
        with self._sentences():
            self._live.off()
            label, time_s = self._dials["time"].read()
            if label == BULB:
                raise CameraError("The time is on bulb: a frame can be taken by holding the shutter, or set a time.")
            self._drain()
            before = self._arrivals.whole()
        try:
            self._session.trigger()
        except LibraryError as error:
            self._gone = self._gone or error.gone
            if error.code == TIMEOUT:
                raise LostError("The camera took too long to say whether it has taken the frame.") from error
            raise self._explained(error) from error
        frames = self._link.profile.frames
        allow_s = 2 * (time_s or 0.0) + frames.write_s
        try:
            self._arrivals.wait(before + 1, self._clock.now_ns() + to_ns(allow_s))
        except LibraryError as error:
            self._gone = True
            raise LostError("The camera was lost while it took a frame; the frame may be on its card.") from error

    def _drain(self) -> None:
        """Take in all that the body still has to tell, so that nothing of it stirs while the shutter is open."""
        self._arrivals.drain(DRAIN_S)
        self._arrivals.open_s = None
        self._heard_ns = self._clock.now_ns()

    def prepare(self) -> None:
        self._require_session()
        self._require_shut()
        with self._sentences():
            held = self._way()
            if held is None:
                raise CameraError(_NO_HOLD)
            self._live.off()
            label, _ = self._dials["time"].read()
            if label != BULB:
                raise CameraError(f"{_NOT_BULB} {label}.")
            self._drain()
            held.prepare()
            if held.way.pause_s:
                self._clock.wait_until(self._clock.now_ns() + to_ns(held.way.pause_s))

    def open_shutter(self) -> None:
        self._require_session()
        if self._held is None:
            raise CameraError(_NO_HOLD)
        self._shutter = "open"
        try:
            self._held.open()
        except LibraryError as error:
            self._gone = self._gone or error.gone
            if error.code in REFUSED:  # one body is known to open all the same
                self._shutter = "unknown"
                with contextlib.suppress(LostError, BusyError, CameraError):
                    self.close_shutter()
            raise self._explained(error) from error

    def _explained(self, error: LibraryError) -> TetherError:
        """Return a release that was refused as the person is told it: with what the body says of itself."""
        told = for_person(error)
        if self._gone or error.code not in REFUSED:
            return told
        return why_refused(self._session, self._link.profile, error.doing) or told

    def close_shutter(self) -> None:
        if self._left:
            raise LostError(_LEFT)
        if self._gone:
            self._reach()
        if self._shutter == "shut":
            return
        with self._sentences():
            held = self._way()
        if held is None:
            self._shutter = "shut"
            return
        try:
            held.close(opened=self._shutter == "open")
        except LibraryError as error:
            self._gone = self._gone or error.gone
            if not self._may_be_shut(error):
                self._close_failed = True
                raise for_person(error) from error
            self._tell("The camera answers the close command with an error, as it does while it works on the frame.")
            self._shutter = "unknown"
        else:
            self._shutter = "shut"
        self._close_failed = False
        self._heard_ns = self._clock.now_ns()

    def _may_be_shut(self, error: LibraryError) -> bool:
        """Say whether a close that failed twice may have shut it: then its file comes, else it is closed once more.

        Not where the session does not answer otherwise either.
        """
        way = self._held.way if self._held else None
        if not (way and way.error_may_mean_shut and self._close_failed and error.code in (*REFUSED, BUSY)):
            return False
        with contextlib.suppress(LibraryError):
            self._arrivals.listen(self._link.profile.events.slice_s)
            return True
        self._gone = True
        return False

    def _make_sure_shut(self) -> None:
        """Close a shutter of which it is not known that it is shut."""
        self._require_shut()
        if self._shutter == "unknown":
            self.close_shutter()

    def close_later_ns(self, open_took_ns: int) -> int:
        return 0 if self._held is None else self._held.close_later_ns(open_took_ns)

    def said_open_s(self) -> float | None:
        return self._arrivals.open_s

    def _require_shut(self) -> None:
        if self._shutter == "open":
            raise BusyError("The shutter of the camera is open; this can be done when it is shut.")

    # Keeping contact

    def attend(self, free_until_ns: int | None) -> None:
        events = self._link.profile.events
        now_ns = self._clock.now_ns()
        if self._left or now_ns - self._heard_ns < to_ns(events.every_s):
            return
        left_s = None if free_until_ns is None else (free_until_ns - now_ns) / 1e9
        if self._gone:
            self._reach_if_there_is_time(left_s)
        elif left_s is None or (events.every_s and left_s > events.slowest_s):
            self._listen_a_moment()

    def _listen_a_moment(self) -> None:
        self._heard_ns = self._clock.now_ns()
        try:
            self._arrivals.listen(self._link.profile.events.slice_s)
        except LibraryError as error:
            self._gone = self._gone or error.gone
            self._tell(str(for_person(error)))

    def _reach_if_there_is_time(self, left_s: float | None) -> None:
        if self._shutter == "open" and (left_s is None or left_s > RECOVERY_S):
            self._heard_ns = self._clock.now_ns()
            with contextlib.suppress(LostError, BusyError, CameraError):
                self._reach()

    def _reach(self, why: str = "") -> None:
        """Begin a new session in the place of one that is gone, or is of no more use (`why` says so).

        Raises TetherError while that can't be; the next request tries it again.
        """
        self._gone = True
        try:
            self._begin(self._recovery.new_session(self._session, why))
        except LibraryError as error:
            self._gone = True
            raise _not_reached(error) from error

    # Files

    def new_files(self, expected: int, allow_s: float) -> tuple[CardFile, ...]:
        with self._asked():
            self._require_shut()
            from_memory = self._session.has_listed
            self._arrivals.gather(expected, allow_s)
            if self._shutter == "unknown" and self._arrivals.whole() < expected:
                self.close_shutter()
                self._arrivals.gather(expected, allow_s)
            if from_memory and self._arrivals.whole() < expected and self._clock.now_ns() >= self._lists_anew_from_ns:
                # In a new session, as the library lists the card once in each; not again within a while.
                self._lists_anew_from_ns = self._clock.now_ns() + to_ns(LISTED_ANEW_EVERY_S)
                self._reach("A frame is missing: the card is listed anew.")
                self._arrivals.gather(expected, 0.0)
            return self._arrivals.hand_out()

    def card_files(self) -> tuple[CardFile, ...]:
        with self._asked():
            self._require_shut()
            return self._arrivals.on_card()

    def fetch(self, file: CardFile, into: Path) -> int:
        with self._asked():
            self._require_shut()
            try:
                with self._recording.fetching(file.name) as came:
                    return came(self._session.fetch(file.folder, file.name, into))
            except LibraryError as error:
                if error.code in REFUSED:  # it says so of a line that is cut, too: then nothing is heard on it either
                    self._arrivals.listen(self._link.profile.events.slice_s)
                raise

    # Live view

    def live(self, into: Path, at: tuple[float, float] | None) -> LivePicture:
        with self._asked():
            self._make_sure_shut()
            return self._live.picture(into, at)

    def live_off(self) -> None:
        with self._asked():
            self._require_shut()
            self._live.off()

    def nudge_focus(self, steps: int) -> None:
        with self._asked():
            self._make_sure_shut()
            self._live.nudge(steps)

    # The person at the tripod, and the end

    def stage(self, change: SceneChange) -> None:
        if self._link.staged_at is not None:
            tell_stage(self._link.staged_at, change)

    def leave(self) -> None:
        if self._left:
            return
        self._left = True
        if not self._gone:
            with contextlib.suppress(LibraryError):
                self._live.off()
        self._session.end()
        self._recording.end()


@contextmanager
def _later_if_busy() -> Iterator[None]:
    """Go on where a busy body refuses the block, which is tried again when it is needed: a shutter may be open."""
    try:
        yield
    except LibraryError as error:
        if error.code not in (BUSY, TIMEOUT):
            raise


def _agrees(read: Settings, wanted: Settings) -> bool:
    """Say whether what is read is what was wanted, as far as the body tells."""
    return all(getattr(read, dial) in ("", getattr(wanted, dial)) for dial in DIALS)


def _not_reached(error: LibraryError) -> LostError | CameraError | BusyError:
    if error.code in (UNKNOWN_PORT, NO_MODEL):
        return LostError("No camera is found where it was: switch it on, look at its cable and its USB setting.")
    told = for_person(error)
    return told if isinstance(told, (CameraError, BusyError)) else LostError(str(told))
