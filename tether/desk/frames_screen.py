"""The frames: each with its picture and what it says, two of them side by side, and what the person thinks of them."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual import events, on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical
from textual.widgets import OptionList

from tether import wording as words
from tether.desk import views
from tether.desk.half_blocks import HalfBlocks, picture_in
from tether.desk.screens import Asked, MainScreen
from tether.desk.widgets import Key, Lines, TextLine
from tether.errors import TetherError
from tether.journal.story import FrameStory
from tether.report.choices import Choice, Verdict, choose, read_choices

if TYPE_CHECKING:
    from tether.desk.pictures import Evened, Picture

ZOOMS = (1, 2, 4, 8)
#: How far the part that is looked at moves, as a share of itself.
_STEP = 0.25
_CHANNELS = ("red", "green", "blue")
#: Below so many columns the list makes way for two pictures.
_BOTH_FROM = 100


class FramesScreen(MainScreen):
    """Frames to look at, to compare and to choose among."""

    CALLED = "frames"
    SHOWS = (
        "Every frame that was copied, with its preview: a small picture, to judge the water by, not sharpness.\n"
        "Side by side, the right picture is made as bright and of the same cast as the left, in linear light, over what"
        " is clipped in neither; by how much is shown below. Your choices are kept in the outing's choices.toml."
    )
    OWN = (
        ("↑ ↓", "the frame"),
        ("c", "keep this frame on the left, and see others beside it; once more: alone again"),
        ("z", "look closer: 2, 4, 8 times; then the whole again; both pictures show the same part"),
        ("⇧←→↑↓", "move the part that is looked at; or click into a picture"),
        ("k m n u", "keep, maybe, no; u: not decided"),
        ("o", "a note"),
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "step(-1)", show=False),
        Binding("down", "step(1)", show=False),
        Binding("c", "compare", show=False),
        Binding("z", "closer", show=False),
        *(
            Binding(f"shift+{way}", f"move({across}, {down})", show=False)
            for way, across, down in (("left", -1, 0), ("right", 1, 0), ("up", 0, -1), ("down", 0, 1))
        ),
        Binding("k", "choose('keep')", show=False),
        Binding("m", "choose('maybe')", show=False),
        Binding("n", "choose('no')", show=False),
        Binding("u", "choose('')", show=False),
        Binding("o", "note", show=False),
    ]

    def __init__(self) -> None:
        super().__init__()
        self._frames: tuple[FrameStory, ...] = ()
        self._choices: dict[int, Choice] = {}
        self._left: int | None = None
        self._zoom = 1
        self._centre = (0.5, 0.5)
        self._trouble = ""

    def middle(self) -> ComposeResult:
        yield TextLine(id="choices-trouble")
        with Horizontal(id="frames-room"):
            yield Lines(id="list")
            with Vertical(id="pictures"):
                with Horizontal(id="blocks"):
                    yield HalfBlocks(id="left")
                    yield HalfBlocks(id="right")
                yield TextLine(id="told")

    def on_mount(self) -> None:
        super().on_mount()
        self.query_one(Lines).focus()

    def keys(self) -> Sequence[Key]:
        """Return what can be done with a frame."""
        if not self._frames:
            return ()
        return (
            Key(key="↑ ↓", label="frame", action="screen.step(1)"),
            Key(key="k", label="keep", action="screen.choose('keep')"),
            Key(key="m", label="maybe", action="screen.choose('maybe')"),
            Key(key="n", label="no", action="screen.choose('no')"),
            Key(key="u", label="undecided", action="screen.choose('')"),
            Key(key="o", label="note", action="screen.note"),
            Key(key="c", label="alone" if self._left is not None else "compare", action="screen.compare"),
            Key(key="z", label=f"closer (now {self._zoom}×)", action="screen.closer"),
            *([Key(key="⇧←→↑↓", label="move", action="screen.move(1, 0)")] if self._zoom > 1 else []),
        )

    # Drawing -----------------------------------------------------------------------------------------------------

    def draw(self) -> None:
        self._read()
        super().draw()
        self.query_one("#choices-trouble", TextLine).say(self._trouble)
        self._list()
        self._pictures()

    def _read(self) -> None:
        told, outing = self.desk.told(), self.desk.sight.outing
        frames = (frame for ladder in told.ladders for frame in ladder.frames) if told else ()
        self._frames = tuple(frame for frame in frames if frame.files)
        self._trouble = ""
        try:
            self._choices = read_choices(outing) if outing else {}
        except TetherError as error:
            self._choices, self._trouble = {}, str(error)

    def _list(self) -> None:
        listed = self.query_one(Lines)
        listed.say([_listed(frame, self._choices.get(frame.frame, Choice())) for frame in self._frames])
        listed.display = self._left is None or self.size.width >= _BOTH_FROM

    @property
    def _chosen(self) -> FrameStory | None:
        at = self.query_one(Lines).highlighted
        return self._frames[at] if at is not None and at < len(self._frames) else None

    def _pictures(self) -> None:
        chosen = self._chosen
        beside = next((one for one in self._frames if one.frame == self._left), None)
        left, right = self.query_one("#left", HalfBlocks), self.query_one("#right", HalfBlocks)
        right.display = beside is not None
        half = (self.query_one("#blocks").size.width - 1) // 2  # both as wide, or one would be the larger
        left.styles.width = right.styles.width = half if beside is not None and half > 0 else "1fr"
        if beside is None or chosen is None:
            left.show(self._part(self._preview(chosen)))
            self.query_one("#told", TextLine).say(self._told(chosen))
            return
        first, second = self._preview(beside), self._preview(chosen)
        made = _evened(second, first)
        left.show(self._part(first))
        right.show(self._part(made.picture if made else second))
        how = "Not evened out: there is too little that both show."
        if made:
            by = ", ".join(
                f"{name} {words.stops(stop)}" for name, stop in zip(_CHANNELS, made.brighter_stops, strict=True)
            )
            how = f"Evened out, the right one by {by} stop."
        self.query_one("#told", TextLine).say(
            f"left:  {_short(beside)}{self._verdict(beside)}\nright: {_short(chosen)}{self._verdict(chosen)}\n{how}"
        )

    def _verdict(self, frame: FrameStory) -> str:
        choice = self._choices.get(frame.frame, Choice())
        return f": {choice.verdict}" if choice.verdict else ""

    def _preview(self, frame: FrameStory | None) -> Picture | None:
        outing: Path | None = self.desk.sight.outing
        name = next((file.preview for file in frame.files if file.preview), None) if frame else None
        return picture_in(outing / name) if outing and name else None

    def _part(self, picture: Picture | None) -> Picture | None:
        if picture is None:
            return None
        from tether.desk.pictures import cropped

        return cropped(picture, self._zoom, self._centre)

    def _told(self, frame: FrameStory | None) -> str:
        if frame is None:
            return "No frame is copied yet."
        choice = self._choices.get(frame.frame, Choice())
        note = f"\nNote: {choice.note}" if choice.note else ""
        return f"{_short(frame)}\n{_said(frame)}{note}"

    # What the person does ----------------------------------------------------------------------------------------

    @on(OptionList.OptionHighlighted)
    def _other_frame(self) -> None:
        self._pictures()

    def action_step(self, by: int) -> None:
        """Go to another frame, also where the list is hidden."""
        listed = self.query_one(Lines)
        if self._frames:
            listed.highlighted = min(max((listed.highlighted or 0) + by, 0), len(self._frames) - 1)

    def action_compare(self) -> None:
        """Keep the frame on the left, or show frames alone again."""
        self._left = self._chosen.frame if self._left is None and self._chosen else None
        self.draw()

    def action_closer(self) -> None:
        """Show a smaller part, larger; after the smallest the whole."""
        self._zoom = ZOOMS[(ZOOMS.index(self._zoom) + 1) % len(ZOOMS)]
        self.draw()

    def action_move(self, across: int, down: int) -> None:
        """Move the part that is looked at, no further than to the edge."""
        edge = 0.5 / self._zoom
        x, y = (
            min(max(at + by * _STEP / self._zoom, edge), 1 - edge)
            for at, by in zip(self._centre, (across, down), strict=True)
        )
        self._centre = (x, y)
        self._pictures()

    def on_click(self, event: events.Click) -> None:
        """Look at what was clicked."""
        if not isinstance(event.widget, HalfBlocks):
            return
        place = event.widget.place_of(event.x, event.y)
        if place is not None:
            x, y = (at + (to - 0.5) / self._zoom for at, to in zip(self._centre, place, strict=True))
            self._centre = (x, y)
            self.action_move(0, 0)

    def action_choose(self, verdict: str) -> None:
        """Keep what the person thinks of the frame."""
        frame = self._chosen
        if frame is not None:
            before = self._choices.get(frame.frame, Choice())
            meant: Verdict | None = verdict or None  # type: ignore[assignment]
            self._keep(frame, Choice(verdict=meant, note=before.note))

    def action_note(self) -> None:
        """Ask for a note on the frame."""
        frame = self._chosen
        if frame is None:
            return
        before = self._choices.get(frame.frame, Choice())

        def keep(note: str | None) -> None:
            if note is not None:
                self._keep(frame, Choice(verdict=before.verdict, note=note))

        asked = Asked(
            "note", _short(frame), before.note, "a note on this frame", keep="keep it", leave="leave it as it was"
        )
        self.app.push_screen(asked, keep)

    def _keep(self, frame: FrameStory, choice: Choice) -> None:
        outing = self.desk.sight.outing
        if outing is None:
            return
        try:
            choose(outing, frame.frame, choice)
        except TetherError as error:
            self.desk.refusal = str(error)
        self.draw()


def _evened(picture: Picture | None, like: Picture | None) -> Evened | None:
    if picture is None or like is None:
        return None
    from tether.desk.pictures import evened

    return evened(picture, like)


def _listed(frame: FrameStory, choice: Choice) -> str:
    time = words.planned_time(frame.believed_open_s)
    place = words.place(frame.rung, frame.kind)
    return f"{frame.frame:>4} {place:<9}{time:>9} {choice.verdict or '':<5}{'*' if choice.note else ' '}"


def _short(frame: FrameStory) -> str:
    """Name a frame by what it was really taken with."""
    return (
        f"frame {frame.frame}, {'rung ' if frame.kind == 'rung' else ''}{words.place(frame.rung, frame.kind)}: "
        f"{words.measured_time(frame.believed_open_s)}, {words.aperture(frame.aperture)}, ISO {words.iso(frame.iso)}, "
        f"{words.filters(frame.filters) if frame.filters else 'no filter'}"
    )


def _said(frame: FrameStory) -> str:
    """Say what a frame's pixels said, from the journal."""
    if frame.readings is None:
        return "Its pixels are not read."
    parts = [f"headroom {views.room(frame.readings)}"]
    if frame.readings.off_stops is not None:
        parts.append(f"rock {words.stops(frame.readings.off_stops)} stop")
    return ", ".join([*parts, frame.outcome])
