"""What the driver must know: of a family of bodies, the part of a body file that is about the camera library; and how
one body is reached.

Plain records, so that the camera process can have them without the checker that read the file. A *text* is one of the
library's choices; a *pattern* is a text in which ``*`` stands for anything and case does not matter.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, ClassVar, Literal

Otherwise = Literal["stop", "note"]


class _Strict:
    """A table of the file: the checker that reads it takes no key that is not named."""

    __pydantic_config__: ClassVar[dict[str, Any]] = {"extra": "forbid"}


@dataclass(frozen=True, kw_only=True)
class ConfigWrite(_Strict):
    """One write to the library: the entry, and the text (or 0 and 1 of a switch) that is written."""

    entry: str
    value: str | int


@dataclass(frozen=True, kw_only=True)
class DialReading(_Strict):
    """Where a value is set and how its texts are to be understood.

    Attributes
    ----------
    entries
        The library's names for it; the first that the body has is used.
    texts
        The list of its texts, where the library takes any text and gives none.
    bulb
        Texts that mean bulb (times only), best first.
    bulb_as
        What is written for bulb, where the text that is offered would not be understood; empty: what is offered.
    ignore
        Patterns of texts that are no value of ours.
    means, means_in_halves
        Texts that stand for another number than they say, in any list and in one in half stops: seconds, f-number or
        ISO.
    step
        The scale of the body's list where a text could be read on two; "by the list": whichever more of it fits.
    plain_is_fraction
        Whether a plain number n means 1/n s (times only).
    """

    entries: tuple[str, ...]
    texts: tuple[str, ...] = ()
    bulb: tuple[str, ...] = ()
    bulb_as: str = ""
    ignore: tuple[str, ...] = ()
    means: dict[str, float] = field(default_factory=dict)
    means_in_halves: dict[str, float] = field(default_factory=dict)
    step: Literal["by the list", "third", "half"] = "by the list"
    plain_is_fraction: bool = False


@dataclass(frozen=True, kw_only=True)
class Release(_Strict):
    """One way to hold the shutter open.

    Attributes
    ----------
    name
        What it is called in the log.
    needs
        Entries that must be there, and where a text is given, offer it.
    open, close
        What is written, in order.
    else_close
        What is tried when `close` fails, one after the other.
    error_may_mean_shut
        Whether an error of `close` may come with the shutter shut and the body still at work.
    pause_s
        Pause between the last setting and the opening [s].
    opens_with, closes_with
        The operations, by number (ISO 15740, or the maker's own), that open and close: when the library sends them is
        what is timed. Empty: not known.
    opens_at, closes_at
        Where the library does not tell that: the share of the opening's and of the closing's call that is over when
        the command goes out; 0 at once, 1 at the end of the call.
    """

    name: str
    needs: tuple[ConfigWrite | str, ...]
    open: tuple[ConfigWrite, ...]
    close: tuple[ConfigWrite, ...]
    else_close: tuple[tuple[ConfigWrite, ...], ...] = ()
    error_may_mean_shut: bool = False
    pause_s: float = 0.0
    opens_with: tuple[int, ...] = ()
    closes_with: tuple[int, ...] = ()
    opens_at: float = 0.5
    closes_at: float = 0.5


@dataclass(frozen=True, kw_only=True)
class Look(_Strict):
    """One thing that should be so before a run.

    Attributes
    ----------
    entries
        Where it can be read; the first that the body has is used.
    good
        Patterns of texts that will do.
    otherwise
        What any other text is: a stop, or only a note.
    remedy
        What the person is to do then, as a sentence.
    set_to
        Texts that are written where the body takes them and offers one, best first; what was found is put back at
        the end.
    """

    entries: tuple[str, ...]
    good: tuple[str, ...]
    remedy: str
    otherwise: Otherwise = "stop"
    set_to: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class TellEntries(_Strict):
    """Entries that tell of the body; the first that can be read is believed.

    `battery_low` are patterns of words by which a body calls its battery low; `buffer_left` tells how many frames its
    memory still takes before they are written.
    """

    battery: tuple[str, ...] = ("batterylevel",)
    battery_low: tuple[str, ...] = ("low", "very low", "empty", "exhausted")  # "low": libgphoto2; others from memory
    frames_left: tuple[str, ...] = ("availableshots",)
    buffer_left: tuple[str, ...] = ("maximumshots",)  # from memory
    lens: tuple[str, ...] = ("lensname",)
    serial: tuple[str, ...] = ("eosserialnumber", "serialnumber")
    clock: tuple[str, ...] = ("datetimeutc", "datetime")
    format: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Events(_Strict):
    """How the body is listened to.

    Attributes
    ----------
    every_s
        While the shutter is open, and while nothing is asked, it is listened to this often [s]; 0: never while open.
    slice_s
        How long one listening is asked to last [s].
    slowest_s
        How long it may last all the same [s]; none is begun later than this before a close is due.
    tells_open
        What a text event begins with by which the body counts the seconds it has been open; empty: it does not.
    """

    every_s: float = 2.0
    slice_s: float = 0.1
    slowest_s: float = 0.5
    tells_open: str = ""


@dataclass(frozen=True, kw_only=True)
class Frames(_Strict):
    """What files come of a frame.

    Attributes
    ----------
    two_files
        Patterns of the format's text with which a frame is two files, raw and JPEG.
    quiet_s
        With fewer files than expected, a frame counts as complete when nothing came for this long [s].
    write_s
        What writing a frame may take beyond its exposure [s].
    announced
        Whether the body tells of new files; else the card is listed.
    """

    two_files: tuple[str, ...] = ("*+*",)
    quiet_s: float = 2.5
    write_s: float = 60.0
    announced: bool = True


@dataclass(frozen=True, kw_only=True)
class LiveSteps(_Strict):
    """How live view is spoken to.

    Attributes
    ----------
    switch
        The entry that switches it on (1) and off (0); empty: it is there whenever a picture is asked for, and needs no
        switching off.
    magnify
        Writes that magnify it; the first that the body offers is used.
    times
        How many times it is magnified then; left out: not known.
    whole
        The write by which it shows the whole again.
    point
        The entry that takes what is magnified; empty: none does, and nothing is magnified.
    point_text
        How a point is written, with `{x}` and `{y}` in pixels of the sensor.
    point_is
        Whether the point is the upper left "corner" of what is shown, or its "centre".
    nearer, farther
        The write that moves the focus by one small step; left out: none does.
    """

    switch: str = ""
    magnify: tuple[ConfigWrite, ...] = ()
    times: float | None = None
    whole: ConfigWrite | None = None
    point: str = ""
    point_text: str = "{x},{y}"
    point_is: Literal["corner", "centre"] = "corner"
    nearer: ConfigWrite | None = None
    farther: ConfigWrite | None = None


@dataclass(frozen=True, kw_only=True)
class Profile(_Strict):
    """All that the driver must know of a family or body; `models` are patterns of the names the library gives them."""

    models: tuple[str, ...]
    time: DialReading
    aperture: DialReading
    iso: DialReading
    release: tuple[Release, ...] = ()
    tell: TellEntries = TellEntries()
    look: dict[str, Look] = field(default_factory=dict)
    events: Events = Events()
    frames: Frames = Frames()
    live: LiveSteps | None = None


@dataclass(frozen=True, kw_only=True)
class Link:
    """How a body is reached.

    Attributes
    ----------
    profile
        How it is spoken to.
    port
        Where it is: as ``usb:001,004``, or ``ptpip:ADDRESS`` for one on a network; empty: the only one there is.
    model
        The library's name for it, where it can't find that out itself (on a network); empty: it can.
    staged_at
        The socket of a simulated camera on the wire where it is told what the person did at the tripod; None: a real
        one, which sees it.
    recorded_at
        The file that the session is recorded in, names and numbers and all; None: it is not.
    """

    profile: Profile
    port: str = ""
    model: str = ""
    staged_at: Path | None = None
    recorded_at: Path | None = None
