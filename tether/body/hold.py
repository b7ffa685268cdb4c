"""Making one exposure: the hold, whose open time we keep ourselves, and the timed frame, which the body keeps.

What is exact is the time between our open command and our close command. The close is due at an absolute moment, the
open command's stamp plus the time asked, so that however long the body takes to accept the opening, the hold does not
grow. What the body adds by itself is its own, and is measured by light elsewhere.

Deciding (:class:`OpenShutter`) is apart from waiting (:func:`hold`), so that a clock that waits and a clock that is
stepped follow the same rules.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from dataclasses import dataclass

from tether.body.protocol import Changed, ClosedBy, Ended, Failed, Held, Opened, Order, ShutterRecord, Timed
from tether.body.scheduling import undisturbed
from tether.clock import Clock, to_ns, to_s
from tether.errors import BusyError, LostError, TetherError

#: An open shutter hears no more this long before its close, so that nothing stirs near the close [s].
HEARING_ENDS_S = 1.0
#: How often a close that fails is tried in all, and the pause between two tries [s].
CLOSE_TRIES = 10
CLOSE_AGAIN_S = 0.2
#: The last nap before a close ends this long before it; what is left is spun.
_LAST_NAP_NS = 100_000


EXPOSING = "A frame is being exposed; the camera can be asked again when it is done."


@dataclass(frozen=True, kw_only=True)
class Move:
    """Close later (positive) or sooner (negative) by this many seconds."""

    by_s: float


@dataclass(frozen=True, kw_only=True)
class CloseNow:
    """Close at once, and keep the frame; `by` is whose doing that is."""

    by: ClosedBy = "person"


Word = Move | CloseNow


@dataclass(frozen=True, kw_only=True)
class OpenShutter:
    """A shutter that we opened, and when it is to be closed.

    Attributes
    ----------
    order
        What was asked; `command_s` follows the changes that were heard.
    called_ns, returned_ns
        Around the command that opened.
    closes_at_ns
        When the close command is due; never before `called_ns`.
    later_ns
        By how much later that is than the calls alone would have it, see :class:`~tether.body.protocol.Held`.
    realtime
        Whether real-time scheduling is in force while it is open; None on a clock where that means nothing.
    closed_by
        Whose doing the close will be.
    body_said_s
        How long the body itself says it was open, once it is shut [s]; None where it does not count.
    accepted
        Whether the body took the command that opened it.
    """

    order: Order
    called_ns: int
    returned_ns: int
    closes_at_ns: int
    realtime: bool | None
    closed_by: ClosedBy = "planned"
    body_said_s: float | None = None
    later_ns: int = 0
    accepted: bool = True

    @property
    def hears_until_ns(self) -> int:
        """The moment from which on it is too late to change anything."""
        return self.closes_at_ns - to_ns(HEARING_ENDS_S)

    def told(self, word: Word, now_ns: int) -> OpenShutter:
        """Return the shutter as it stands after a word at `now_ns`: the same one when that is too late.

        A close moved into the past is a close now.
        """
        if now_ns >= self.hears_until_ns:
            return self
        if isinstance(word, Move):
            order = dataclasses.replace(self.order, command_s=self.order.command_s + word.by_s)
            closes_at_ns = self.called_ns + to_ns(order.command_s) + self.later_ns
            if closes_at_ns > now_ns:
                return dataclasses.replace(self, order=order, closes_at_ns=closes_at_ns)
        by = word.by if isinstance(word, CloseNow) else "person"
        return dataclasses.replace(self, closes_at_ns=now_ns, closed_by=by)

    def opening(self, close_called_ns: int, close_returned_ns: int, closed_by: ClosedBy) -> ShutterRecord:
        """Return the record of the whole exposure, given how it was closed."""
        return ShutterRecord(
            frame=self.order.frame,
            way=self.order.way,
            asked_s=self.order.command_s,
            open_called_ns=self.called_ns,
            open_returned_ns=self.returned_ns,
            close_called_ns=close_called_ns,
            close_returned_ns=close_returned_ns,
            closed_by=closed_by,
            realtime=self.realtime,
            body_said_s=self.body_said_s,
            later_ns=self.later_ns,
            accepted=self.accepted,
        )

    def opened(self) -> Opened:
        """Return the event of its opening."""
        return Opened(frame=self.order.frame, at_ns=self.called_ns, closes_at_ns=self.closes_at_ns)

    def changed(self) -> Changed:
        """Return the event of a close that was moved."""
        return Changed(frame=self.order.frame, closes_at_ns=self.closes_at_ns)

    def ended(self, close_called_ns: int, close_returned_ns: int) -> Ended:
        """Return the event of a close that went well."""
        return Ended(frame=self.order.frame, opening=self.opening(close_called_ns, close_returned_ns, self.closed_by))


Hear = Callable[[int], Word | None]
Tell = Callable[[Opened | Changed | Ended | Failed], None]


def hold(body: Held, clock: Clock, order: Order, hear: Hear, tell: Tell, *, realtime: bool) -> None:
    """Hold the shutter open for `order.command_s` and close it; all that happens, trouble too, is told as events.

    Parameters
    ----------
    hear
        Waits until the given moment [ns] for a word of the person and returns it, or None when none came.
    tell
        Is handed Opened, then Changed for each change, then Ended or Failed; or Failed alone.
    realtime
        Whether to ask for real-time scheduling; whether it was granted is in the opening's record.
    """
    with undisturbed(realtime) as granted:
        shutter = open_shutter(body, clock, order, realtime=granted)
        if isinstance(shutter, Failed):
            tell(shutter)
            return
        tell(shutter.opened())
        shutter = hear_and_wait(clock, shutter, hear, tell)
        end = close_shutter(body, clock, shutter)
    tell(end)


def open_shutter(body: Held, clock: Clock, order: Order, *, realtime: bool | None) -> OpenShutter | Failed:
    """Open the shutter; the close is due `order.command_s` after the open command was called."""
    try:
        body.prepare()
    except TetherError as error:
        return Failed(frame=order.frame, kind=error.kind, sentences=error.sentences, opening=None)
    called_ns = clock.now_ns()
    try:
        body.open_shutter()
    except TetherError as error:
        return _not_opened(body, clock, order, called_ns, error)
    returned_ns = clock.now_ns()
    later_ns = body.close_later_ns(returned_ns - called_ns)
    return OpenShutter(
        order=order,
        called_ns=called_ns,
        returned_ns=returned_ns,
        closes_at_ns=called_ns + to_ns(order.command_s) + later_ns,
        realtime=realtime,
        later_ns=later_ns,
    )


def _not_opened(body: Held, clock: Clock, order: Order, called_ns: int, error: TetherError) -> Failed:
    """Return the event of an opening that failed, having made sure that the shutter is shut.

    A camera that refused did not open. One that was busy or lost may have opened all the same.
    """
    if not isinstance(error, (BusyError, LostError)):
        return Failed(frame=order.frame, kind=error.kind, sentences=error.sentences, opening=None)
    now_ns = clock.now_ns()
    shutter = OpenShutter(
        order=order,
        called_ns=called_ns,
        returned_ns=now_ns,
        closes_at_ns=now_ns,
        realtime=None,
        accepted=False,
    )
    end = close_shutter(body, clock, shutter)
    said = end.sentences if isinstance(end, Failed) else ()
    return Failed(frame=order.frame, kind=error.kind, sentences=(*said, *error.sentences), opening=end.opening)


def hear_and_wait(clock: Clock, shutter: OpenShutter, hear: Hear, tell: Tell) -> OpenShutter:
    """Return, at the moment when the shutter is to be closed, the shutter as it then stands."""
    while clock.now_ns() < shutter.hears_until_ns and (word := hear(shutter.hears_until_ns)):
        told = shutter.told(word, clock.now_ns())
        if told is not shutter and told.closed_by == "planned":
            tell(told.changed())
        shutter = told
    wait_in_naps(clock, shutter.closes_at_ns)
    return shutter


def wait_in_naps(clock: Clock, at_ns: int) -> None:
    """Return as close after `at_ns` as this machine can.

    Each nap takes a third of what is left, so one that ends late costs nothing as long as it is not among the last few.
    A thread that mostly sleeps is also woken sooner on a busy machine than one that spins for milliseconds, which has
    used its turn up by the moment that matters. One long sleep, or naps of a half or a tenth, measured worse.
    """
    while (left_ns := at_ns - clock.now_ns()) > _LAST_NAP_NS:
        clock.wait_until(at_ns - left_ns * 2 // 3)
    clock.wait_exactly_until(at_ns)


def close_shutter(body: Held, clock: Clock, shutter: OpenShutter) -> Ended | Failed:
    """Close a shutter, trying again where that fails, which is harmless; a close that was not clean is said."""
    called_ns = clock.now_ns()
    for tries in range(1, CLOSE_TRIES + 1):
        try:
            body.close_shutter()
        except TetherError as error:
            trouble = error
            clock.wait_until(clock.now_ns() + to_ns(CLOSE_AGAIN_S))
        else:
            returned_ns = clock.now_ns()
            shutter = dataclasses.replace(shutter, body_said_s=body.said_open_s())
            if tries == 1:
                return shutter.ended(called_ns, returned_ns)
            return _closed_late(shutter, called_ns, returned_ns, tries, trouble)
    return _not_closed(shutter, called_ns, clock.now_ns(), trouble)


def _closed_late(shutter: OpenShutter, called_ns: int, returned_ns: int, tries: int, trouble: TetherError) -> Failed:
    opening = shutter.opening(called_ns, returned_ns, shutter.closed_by)
    sentence = (
        f"The camera took the close command of frame {opening.frame} only at try {tries}: {open_between(opening)}."
    )
    return Failed(frame=opening.frame, kind=trouble.kind, sentences=(sentence, *trouble.sentences), opening=opening)


def _not_closed(shutter: OpenShutter, called_ns: int, returned_ns: int, trouble: TetherError) -> Failed:
    opening = shutter.opening(called_ns, returned_ns, "lost")
    said = (may_be_open(opening.frame), *trouble.sentences)
    return Failed(frame=opening.frame, kind=trouble.kind, sentences=said, opening=opening)


def may_be_open(frame: int) -> str:
    """Say that the close command of a frame was not taken, however often it was tried."""
    return (
        f"THE SHUTTER MAY STILL BE OPEN: the camera did not take the close command of frame {frame}."
        " It is closed as soon as the camera answers again; or switch the camera off."
    )


def open_between(opening: ShutterRecord) -> str:
    """Say in words what is known of how long a shutter was open whose end, or beginning, is uncertain."""
    most_s = to_s(opening.close_returned_ns - opening.open_called_ns)
    if opening.way == "timed":
        return (
            f"the body was to time {opening.asked_s:.4g} s by itself, and was lost {most_s:.1f} s after it was told to"
        )
    if not opening.accepted:
        return f"whether it opened is not known; it was open for {most_s:.2f} s at the most"
    return f"it was open for between {opening.held_s:.2f} s and {most_s:.2f} s"


def take(body: Timed, clock: Clock, order: Order, tell: Tell) -> None:
    """Make a timed frame; all that happens, trouble too, is told as events.

    A camera that is lost may have made the frame; then the stamps of the attempt are in the event.
    """
    called_ns = clock.now_ns()
    tell(Opened(frame=order.frame, at_ns=called_ns, closes_at_ns=called_ns + to_ns(order.command_s)))
    try:
        body.take()
    except TetherError as error:
        opening = _taken(order, called_ns, clock.now_ns(), "lost") if isinstance(error, LostError) else None
        tell(Failed(frame=order.frame, kind=error.kind, sentences=error.sentences, opening=opening))
    else:
        tell(Ended(frame=order.frame, opening=_taken(order, called_ns, clock.now_ns(), "body")))


def _taken(order: Order, called_ns: int, returned_ns: int, closed_by: ClosedBy) -> ShutterRecord:
    return ShutterRecord(
        frame=order.frame,
        way="timed",
        asked_s=order.command_s,
        open_called_ns=called_ns,
        open_returned_ns=returned_ns,
        close_called_ns=returned_ns,
        close_returned_ns=returned_ns,
        closed_by=closed_by,
        realtime=None,
    )


def left_open(event: Ended | Failed) -> ShutterRecord | None:
    """Return what is known of a shutter that may have stayed open at the end of an exposure; None: it is shut."""
    opening = event.opening
    if isinstance(event, Failed) and opening is not None and opening.way == "held" and opening.closed_by == "lost":
        return opening
    return None


def close_left_open(body: Held, clock: Clock, left: ShutterRecord) -> Ended:
    """Close a shutter that an attempt before left open, and return what is then known of the exposure.

    Parameters
    ----------
    left
        What is known; its `close_called_ns` is the last moment at which the shutter was surely open.

    Raises
    ------
    TetherError
        The camera still does not take the close command.
    """
    body.close_shutter()
    opening = dataclasses.replace(left, close_returned_ns=clock.now_ns(), closed_by="lost")
    return Ended(frame=left.frame, opening=opening)
