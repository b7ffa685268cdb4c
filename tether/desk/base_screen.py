"""The base exposure: what the camera sees, what the raw file says of the water, and where the water is."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical

from tether import wording as words
from tether.desk import draft_views, views
from tether.desk.half_blocks import HalfBlocks, marked_in, picture_in
from tether.desk.screens import MainScreen
from tether.desk.widgets import Key, Large, TextLine, steering
from tether.editor.messages import (
    DraftRegion,
    EditorRequest,
    Expose,
    Find,
    FromCamera,
    Halt,
    Nudge,
    PictureShown,
    RegionKind,
    SetRegion,
    ShowLive,
)

if TYPE_CHECKING:
    from tether.desk.pictures import Picture

Box = tuple[float, float, float, float]

_AT_CAMERA: dict[str, EditorRequest] = {"expose": Expose(), "find": Find(), "from_camera": FromCamera()}
_NEW: Box = (0.3, 0.5, 0.7, 0.8)
#: What the marks over a run's base stand for.
_LEGEND = "Lines: water. Dots: rock. Plain: neither."
#: One press moves an edge by so much, as a share of the picture.
_STEP = 0.02
_LEAST = 0.04
#: One press moves the place that is magnified by so much.
_PLACE_STEP = 0.05
#: Below so many columns the histogram stands under the picture.
_BESIDE_FROM = 100
#: Lines for each channel of the histogram, from so many lines of the screen on.
_BARS_ROWS, _HIGH = 3, 32


class BaseScreen(MainScreen):
    """The base exposure and the regions."""

    CALLED = "base"
    SHOWS = (
        "The last frame of the base, and its raw histogram: stops below clipping in each channel, of the water where"
        " the plan has a rectangle for it. Large: stops that the water is below clipping; ▒▒ and a share: clipped.\n"
        "Dashes: water. Dots: rock that stands still. Without rectangles, what moves is taken for water when the"
        " ladder begins; you can say that it is wrong (f at the run).\n"
        "Live view heats the camera and empties its battery: it ends by itself after three minutes.\n"
        + words.SUN_WHEN_FOCUSING
    )
    OWN = (
        ("e", "take one frame of the base exposure and read it"),
        ("f", "find the base exposure by the light: a few frames"),
        ("t", "take the base exposure from what the camera is set to"),
        ("h", "stop what is running"),
        (
            "w r",
            "the rectangle of the water, of the rock, over a frame; arrows move it, with shift a corner",
        ),
        ("enter", "keep the rectangle; x: have none; esc: as it was"),
        ("i", "the same for what is to be left out"),
        ("l", "live view; z: closer, arrows move the place; , . focus nearer, farther (< > more)"),
        ("o", "how this place was framed last, over live view"),
        ("B", "begin the ladder"),
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("e", "wish('expose')", show=False),
        Binding("f", "wish('find')", show=False),
        Binding("t", "wish('from_camera')", show=False),
        Binding("h", "halt", show=False),
        Binding("l", "live", show=False),
        Binding("z", "closer", show=False),
        Binding("o", "over", show=False),
        *(
            Binding(key, f"nudge({steps})", show=False)
            for key, steps in (("comma", -1), ("full_stop", 1), ("less_than_sign", -5), ("greater_than_sign", 5))
        ),
        Binding("w", "region('water')", show=False),
        Binding("r", "region('rock')", show=False),
        Binding("i", "region('ignore')", show=False),
        *(
            Binding(f"{shift}{way}", f"move({across}, {down}, {bool(shift)})", show=False)
            for shift in ("", "shift+")
            for way, across, down in (("left", -1, 0), ("right", 1, 0), ("up", 0, -1), ("down", 0, 1))
        ),
        Binding("enter", "keep(True)", show=False),
        Binding("escape", "drop", show=False),
        Binding("x,delete", "keep(False)", show=False),
        Binding("B", "app.begin", show=False),
    ]

    def __init__(self) -> None:
        super().__init__()
        self._setting: RegionKind | None = None
        self._box: Box = _NEW
        self._closer = False
        self._over = False
        self._place = (0.5, 0.5)
        self._pressed: tuple[float, float] | None = None

    def middle(self) -> ComposeResult:
        yield TextLine(id="plan")
        yield TextLine(id="doing")
        with Horizontal(id="base-room"):
            yield HalfBlocks(id="base-picture")
            with Vertical(id="base-told"):
                yield Large(id="room")
                yield TextLine(id="base-frame")
                yield TextLine(id="bars", classes="rows")
        yield TextLine(id="regions")

    def keys(self) -> Sequence[Key]:
        """Return what can be done for the base."""
        draft = self.desk.draft
        if self._of_a_run:
            return tuple(steering("regions right", "regions wrong")) if self._asks_of_regions() else ()
        if self._setting:
            return (
                Key(key="←→↑↓", label="move", action="screen.move(1, 0, False)"),
                Key(key="⇧←→↑↓", label="size", action="screen.move(1, 0, True)"),
                Key(key="enter", label="keep it", action="screen.keep(True)"),
                Key(key="x", label="have none", action="screen.keep(False)"),
                Key(key="escape", label="as it was", action="screen.drop"),
            )
        if draft.known.live:
            return (
                Key(key="l", label="live view off", action="screen.live"),
                Key(key="z", label="whole" if self._closer else "closer", action="screen.closer"),
                *([Key(key="←→↑↓", label="place", action="screen.move(1, 0, False)")] if self._closer else []),
                *self._key_over(),
                Key(key=",", label="focus nearer", action="screen.nudge(-1)"),
                Key(key=".", label="farther", action="screen.nudge(1)"),
            )
        if draft.known.doing:
            return (Key(key="h", label="end this", action="screen.halt"),)
        return (
            Key(key="e", label="take a frame", action="screen.wish('expose')"),
            Key(key="f", label="find the base", action="screen.wish('find')"),
            Key(key="t", label="take it from the camera", action="screen.wish('from_camera')"),
            Key(key="w", label="water", action="screen.region('water')"),
            Key(key="r", label="rock", action="screen.region('rock')"),
            Key(key="i", label="leave out", action="screen.region('ignore')"),
            Key(key="l", label="live view", action="screen.live"),
            Key(key="B", label="begin the ladder", action="app.begin"),
        )

    def _key_over(self) -> list[Key]:
        live = self.desk.draft.known.live
        if live is None or live.framed is None or self._closer:
            return []
        return [Key(key="o", label="live view alone" if self._over else "as framed last", action="screen.over")]

    # Drawing -----------------------------------------------------------------------------------------------------

    def draw(self) -> None:
        super().draw()
        known = self.desk.draft.known
        self.line("plan", draft_views.plan_line(known.state))
        self.line("doing", draft_views.doing_line(known))
        self.query_one("#base-room").set_class(self.size.width < _BESIDE_FROM, "-below")
        if self._of_a_run or known.state is None:
            self._of_run()
            return
        frame = known.frames[-1] if known.frames else None
        self.query_one("#room", Large).say(draft_views.frame_mark(frame) if frame and not known.live else "")
        self.query_one("#room").display = frame is not None and known.live is None
        told = draft_views.frame_line(frame)
        if known.live:
            told = draft_views.live_line(known.live, known.focus, closer=self._closer, over=self._lies_over(known.live))
        self.line("base-frame", draft_views.base_line(known.state), told)
        bars = self.query_one("#bars", TextLine)
        width = self.query_one("#base-told").content_size.width or self.size.width - 2
        rows = _BARS_ROWS if self.size.width >= _BESIDE_FROM and self.size.height >= _HIGH else 1
        drawn = draft_views.histogram(frame.bars, width, rows) if frame and not known.live else ()
        bars.say("\n".join(drawn))
        setting = draft_views.setting_line(self._setting, self._box) if self._setting else ""
        self.line("regions", setting or draft_views.regions_line(known.state.regions))
        self.query_one("#base-picture", HalfBlocks).show(self._picture(), self._outlines(known.state.regions))

    def _of_run(self) -> None:
        """Show the base of the ladder that runs, or ran last: its regions over it, where they were drawn."""
        sight = self.desk.sight
        picture = self._picture_of_run()
        self.query_one("#room").display = False
        self.line("bars", "")
        marked = marked_in(picture)
        self.line("regions", views.regions_taken(sight.snapshot), _LEGEND if marked else "")
        bases = (views.base_line(sight.snapshot), "" if picture else draft_views.NO_REGIONS)
        self.line("base-frame", *([opening] if (opening := self.desk.draft.opening) else bases))
        shown = marked.picture if marked else picture_in(picture)
        self.query_one("#base-picture", HalfBlocks).show(shown, marks=marked.cells if marked else ())

    def _picture_of_run(self) -> Path | None:
        """Return the picture of the regions: of the ladder that runs, as it told of it, else of the outing's last."""
        sight = self.desk.sight
        told = sight.snapshot.regions
        if sight.outing is None or (self.desk.runs and told is None):
            return None
        if told is not None:
            return sight.outing / told.picture if told.picture else None
        numbered = {one.stem.removeprefix("ladder-"): one for one in (sight.outing / "readings").glob("ladder-*.jpg")}
        last = max(filter(str.isdecimal, numbered), key=int, default=None)
        return numbered[last] if last else None

    def _picture(self) -> Picture | None:
        known = self.desk.draft.known
        if known.live:
            return self._live(known.live)
        return picture_in(Path(known.frames[-1].picture)) if known.frames else None

    def _lies_over(self, live: PictureShown) -> bool:
        """Say whether how the place was framed last lies over the live picture."""
        return bool(live.framed) and self._over and not self._closer

    def _live(self, live: PictureShown) -> Picture | None:
        """Return the live picture, with how the place was framed last over it where the person wants that."""
        shown = picture_in(Path(live.picture))
        framed = picture_in(Path(live.framed)) if live.framed and self._lies_over(live) else None
        if shown is None or framed is None:
            return shown
        from tether.desk import pictures

        return pictures.over(shown, framed)

    def _outlines(self, regions: Sequence[DraftRegion]) -> list[DraftRegion]:
        if self.desk.draft.known.live:
            return []
        set_now = [DraftRegion(what=self._setting, box=self._box)] if self._setting else []
        return [*(one for one in regions if one.what != self._setting), *set_now]

    # What the person does ----------------------------------------------------------------------------------------

    @property
    def _of_a_run(self) -> bool:
        """Whether the base of a run is shown here: where no plan is open, and while its ladder is worked."""
        return self.desk.draft.state is None or self.desk.runs

    def _asks_of_regions(self) -> bool:
        """Say whether the regions of a run are shown here that the person has not judged."""
        return self._of_a_run and bool(views.regions(self.desk.sight.snapshot))

    def _wish(self, wish: EditorRequest) -> None:
        """Have something done at the camera of the draft; that of a run is the run's."""
        if not self._of_a_run:
            self.desk.draft.wish(wish)

    def action_wish(self, name: str) -> None:
        """Have something done at the camera; of a run whose regions are shown, `f` says that they are wrong."""
        if name == "find" and self._asks_of_regions():
            self.desk.action_say("regions wrong")
            return
        self._wish(_AT_CAMERA[name])

    def action_halt(self) -> None:
        """End what is going on."""
        self.desk.draft.wish(Halt())
        self.draw()

    def action_live(self) -> None:
        """Switch live view on or off."""
        self._closer = False
        self._wish(Halt() if self.desk.draft.known.live else ShowLive())
        self.draw()

    def action_closer(self) -> None:
        """Magnify live view at a place, or show the whole."""
        if self.desk.draft.known.live:
            self._closer = not self._closer
            self._look()

    def action_over(self) -> None:
        """Lay how this place was framed last over live view, or take it off."""
        live = self.desk.draft.known.live
        if live and live.framed:
            self._over = not self._over
            self.draw()

    def action_nudge(self, steps: int) -> None:
        """Move the focus a little."""
        if self.desk.draft.known.live:
            self.desk.draft.wish(Nudge(steps=steps))

    def _look(self) -> None:
        self.desk.draft.wish(ShowLive(at=self._place if self._closer else None))
        self.draw()

    def action_region(self, what: RegionKind) -> None:
        """Begin to set a rectangle; of a run whose regions are shown, `r` says that they are right."""
        if what == "rock" and self._asks_of_regions():
            self.desk.action_say("regions right")
            return
        known = self.desk.draft.known
        state = known.state
        if self._of_a_run:
            return
        if not known.frames:
            self.desk.refusal = "Take a frame first (e), to see where the water is."
            self.draw()
        elif state is not None:
            self.desk.refusal = ""
            self._setting = what
            self._box = next((one.box for one in state.regions if one.what == what), _NEW)
            self.draw()

    def action_move(self, across: int, down: int, other_corner: bool) -> None:
        """Move the rectangle that is set, or its right lower corner alone; or the place that is magnified."""
        if self._setting:
            self._box = moved(self._box, across * _STEP, down * _STEP, corner=other_corner)
            self.draw()
        elif self._closer and self.desk.draft.known.live:
            x, y = (
                min(max(at + by * _PLACE_STEP, 0.0), 1.0) for at, by in zip(self._place, (across, down), strict=True)
            )
            self._place = (x, y)
            self._look()

    def action_keep(self, kept: bool) -> None:
        """Keep the rectangle that is set, or have none of its kind."""
        if self._setting:
            self.desk.draft.wish(SetRegion(what=self._setting, box=self._box if kept else None))
            self.action_drop()

    def action_drop(self) -> None:
        """Leave the rectangle as it was."""
        self._setting = None
        self.draw()

    def on_mouse_down(self, event: events.MouseDown) -> None:
        """Begin to draw a rectangle; or look closer at what was pressed."""
        place = self._place_of(event)
        if place is None:
            return
        if self._setting:
            self._pressed = place
        elif self.desk.draft.known.live:
            self._place, self._closer = place, True
            self._look()

    def on_mouse_up(self, event: events.MouseUp) -> None:
        """End the rectangle that is drawn."""
        place, pressed, self._pressed = self._place_of(event), self._pressed, None
        if self._setting and place and pressed:
            (left, right), (top, bottom) = (sorted(both) for both in zip(place, pressed, strict=True))
            if right - left >= _LEAST and bottom - top >= _LEAST:
                self._box = (left, top, right, bottom)
                self.draw()

    def _place_of(self, event: events.MouseEvent) -> tuple[float, float] | None:
        picture = self.query_one("#base-picture", HalfBlocks)
        at = event.get_content_offset(picture)
        return None if at is None else picture.place_of(at.x, at.y)


def moved(box: Box, across: float, down: float, *, corner: bool) -> Box:
    """Return a rectangle moved within the picture, or with its right lower corner moved; shares of the picture."""
    left, top, right, bottom = box
    if corner:
        right, bottom = min(max(right + across, left + _LEAST), 1.0), min(max(bottom + down, top + _LEAST), 1.0)
        return (left, top, right, bottom)
    across = min(max(across, -left), 1.0 - right)
    down = min(max(down, -top), 1.0 - bottom)
    return (left + across, top + down, right + across, bottom + down)
