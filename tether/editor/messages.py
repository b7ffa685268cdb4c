"""What a face and the draft process say to each other: one JSON message a line, UTF-8.

A face sends a *request* with a number; the process sends what comes of it, and at the end a `WishAnswer` with that
number.
The promise is between two processes of one version of this program, so there is no schema.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from typing import Any, Literal, get_args

from tether.errors import LostError
from tether.journal.codec import adapter_of
from tether.journal.planned import PlannedLadder
from tether.journal.readings import HistogramSaid
from tether.journal.story import CheckStory

RegionKind = Literal["water", "rock", "ignore"]

#: The key by which a filter is added.
NEW_FILTER = "filter.new"
#: The key by which a rung gets wishes of its own.
NEW_RUNG = "rung.new"


@dataclass(frozen=True, kw_only=True)
class Start:
    """What a draft process is begun with.

    Attributes
    ----------
    path
        The plan's file.
    text
        What it is to say, where that is not saved; None: what the file says.
    simulated
        Whether a plan for a camera is rehearsed.
    world
        The file of what a simulated world really does; None: by default.
    port
        Where the camera is; empty: the only one there is.
    pace
        Seconds of a simulated run in one real second.
    under
        Where outings are made.
    """

    path: str
    text: str | None = None
    simulated: bool = False
    world: str | None = None
    port: str = ""
    pace: float = 1.0
    under: str = "outings"


# Wishes


@dataclass(frozen=True, kw_only=True)
class Edit:
    """Give a key of the plan another value, as a person types it; an empty one takes it out."""

    key: str
    value: str


@dataclass(frozen=True, kw_only=True)
class Undo:
    """Take back the last edit."""


@dataclass(frozen=True, kw_only=True)
class Save:
    """Write the plan's file."""


@dataclass(frozen=True, kw_only=True)
class Check:
    """Look at the camera, the machine and what the ladder needs of them."""


@dataclass(frozen=True, kw_only=True)
class Expose:
    """Take one frame of the base exposure and read it."""


@dataclass(frozen=True, kw_only=True)
class Find:
    """Find the base exposure by the light."""


@dataclass(frozen=True, kw_only=True)
class FromCamera:
    """Take the base exposure from what the camera is set to."""


@dataclass(frozen=True, kw_only=True)
class Halt:
    """End what is going on as soon as that can be: the search for a base, live view."""


@dataclass(frozen=True, kw_only=True)
class SetRegion:
    """Set the plan's one rectangle of a kind, as shares of the upright picture; None: it has none of that kind."""

    what: RegionKind
    box: tuple[float, float, float, float] | None


@dataclass(frozen=True, kw_only=True)
class ShowLive:
    """Show what the sensor sees, from now on until `Halt`, a frame, or a while; magnified at a place (shares of it)."""

    at: tuple[float, float] | None = None


@dataclass(frozen=True, kw_only=True)
class Nudge:
    """Move the focus: negative nearer, positive farther."""

    steps: int


@dataclass(frozen=True, kw_only=True)
class Begin:
    """Begin the run of the plan as it is drafted.

    `despite` are checks that are not to stop it, with reasons; `outing` is the folder to add the ladder to, None: a new
    one is made. `who_knows` is who knows where the person is, and until when, in their words: it is kept in the
    outing's folder and goes nowhere else.
    """

    despite: dict[str, str] = field(default_factory=dict)
    outing: str | None = None
    who_knows: str = ""


@dataclass(frozen=True, kw_only=True)
class SameAgain:
    """Begin a ladder like an outing's last one, for a new composition: a new base, the filters as they are."""

    outing: str


@dataclass(frozen=True, kw_only=True)
class Leave:
    """Let the camera go."""


EditorRequest = (
    Edit
    | Undo
    | Save
    | Check
    | Expose
    | Find
    | FromCamera
    | Halt
    | SetRegion
    | ShowLive
    | Nudge
    | Begin
    | SameAgain
    | Leave
)


# What comes of them


@dataclass(frozen=True, kw_only=True)
class PlanKey:
    """A key of the plan that can be edited.

    Attributes
    ----------
    key
        Its path in the file.
    group, called
        Under which heading it stands, and what it is called, for people.
    value
        What the file says, as a person types it; empty where it says nothing.
    default
        What counts then.
    choices
        What is allowed, where it is one of a few.
    hint
        What is allowed, for people.
    """

    key: str
    group: str
    called: str
    value: str
    default: str = ""
    choices: tuple[str, ...] = ()
    hint: str = ""


@dataclass(frozen=True, kw_only=True)
class DraftRegion:
    """A rectangle that the plan gives, as shares of the upright picture: left, top, right, bottom."""

    what: RegionKind
    box: tuple[float, float, float, float]


@dataclass(frozen=True, kw_only=True)
class Drafted:
    """The plan as it now stands.

    Attributes
    ----------
    path, text, saved
        Its file, what it is to say, and whether it says so.
    keys, regions
        What can be edited.
    ladder
        What follows (as `ladder --json` gives it); None where the plan has mistakes.
    mistakes
        What is wrong with it, in sentences.
    simulated
        Whether it is worked with a simulated body.
    edits
        How many edits can be taken back.
    """

    path: str
    text: str
    saved: bool
    keys: tuple[PlanKey, ...]
    regions: tuple[DraftRegion, ...]
    ladder: PlannedLadder | None
    mistakes: tuple[str, ...]
    simulated: bool
    edits: int


@dataclass(frozen=True, kw_only=True)
class Checked:
    """What was looked at, and when (time of day)."""

    findings: tuple[CheckStory, ...]
    at: str


@dataclass(frozen=True, kw_only=True)
class DraftFrame:
    """A frame that was taken for the base: its preview, its histogram, how it was taken, and what it showed.

    One whose preview was told of before is the same frame, read anew.
    """

    picture: str
    bars: HistogramSaid
    exposure: str
    sentence: str
    headroom_stops: float | None
    clipped_share: float


@dataclass(frozen=True, kw_only=True)
class PictureShown:
    """A live picture.

    Attributes
    ----------
    picture
        Where it lies; empty: live view is over.
    times, at
        How many times it is magnified, None where that is not known; and where, as shares of the whole upright picture,
        None: it is the whole.
    framed
        Where the picture of this place's last framing lies; None: nothing is known of that.
    sharpness
        The contrast of its finest detail (:func:`tether.editor.sharpness.sharpness_of`); None: it is dark.
    why_not_nudged
        Why the focus can't be nudged, in a sentence; None: it can, as far as known.
    """

    picture: str
    times: float | None
    at: tuple[float, float] | None = None
    framed: str | None = None
    sharpness: float | None = None
    why_not_nudged: str | None = None


@dataclass(frozen=True, kw_only=True)
class Doing:
    """What is going on; empty: nothing."""

    what: str


@dataclass(frozen=True, kw_only=True)
class Begun:
    """The run was begun; faces can attach."""

    outing: str


@dataclass(frozen=True, kw_only=True)
class WishAnswer:
    """What became of a wish, in a sentence; `ok` False: nothing came of it."""

    to: int
    ok: bool
    sentence: str


EditorEvent = Drafted | Checked | DraftFrame | PictureShown | Doing | Begun | WishAnswer

_WISHES: dict[str, type] = {kind.__name__: kind for kind in get_args(EditorRequest)}
_NEWS: dict[str, type] = {kind.__name__: kind for kind in get_args(EditorEvent)}


def encode(message: Start | EditorRequest | EditorEvent, to: int = 0) -> bytes:
    """Return a message as a line; a wish carries its number."""
    data = adapter_of(type(message)).dump_python(message, mode="json")
    line = {"name": type(message).__name__, "data": data, "to": to}
    return json.dumps(line, ensure_ascii=False, separators=(",", ":")).encode(errors="replace") + b"\n"


def decode_start(line: bytes) -> Start:
    """Return what a draft process is begun with. Raises LostError if the line does not say."""
    started: Start = _decoded(line, {"Start": Start})[0]
    return started


def decode_wish(line: bytes) -> tuple[EditorRequest, int]:
    """Return the wish in a line, and its number. Raises LostError if it holds none."""
    message, to = _decoded(line, _WISHES)
    return message, to


def decode_news(line: bytes) -> EditorEvent:
    """Return what a line of the process says. Raises LostError if it is none."""
    message: EditorEvent = _decoded(line, _NEWS)[0]
    return message


def _decoded(line: bytes, kinds: dict[str, type]) -> tuple[Any, int]:
    from pydantic_core import from_json

    try:
        data = from_json(line)
        return adapter_of(kinds[data["name"]]).validate_python(data["data"]), int(data["to"])
    except (ValueError, KeyError, TypeError) as error:
        raise LostError(f"This line is not understood: {line[:80].decode(errors='replace')}") from error
