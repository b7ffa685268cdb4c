"""The frames: each with its picture and what it says, two of them side by side, and what the person thinks of them."""

from __future__ import annotations

import asyncio
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
from tether.desk.half_blocks import Cut, HalfBlocks, picture_in
from tether.desk.screens import Asked, MainScreen
from tether.desk.strip_pictures import StripPictures, crop_for, nearest_first
from tether.desk.strip_row import LEAST_WIDE, StripRow
from tether.desk.widgets import Key, Lines, TextLine
from tether.errors import TetherError
from tether.journal.story import FrameStory, LadderStory, Outing
from tether.report.choices import Choice, Verdict, choose, read_choices
from tether.report.choosing import Candidate, candidates_of
from tether.report.strip import one_per_rung

if TYPE_CHECKING:
    from tether.desk.pictures import Evened, Picture

ZOOMS = (1, 2, 4, 8)
#: How far the part that is looked at moves, as a share of itself.
_STEP = 0.25
_CHANNELS = ("red", "green", "blue")
#: Below so many columns the list makes way for two pictures.
_BOTH_FROM = 100
#: The strip is there from so many lines of the screen on, and how high it is: a share of them, at least and at most.
_STRIP_FROM, _STRIP_SHARE, _STRIP_LEAST, _STRIP_MOST = 22, 0.26, 6, 12


class FramesScreen(MainScreen):
    """Frames to look at, to compare and to choose among."""

    CALLED = "frames"
    SHOWS = (
        "Every frame that was copied, with its preview: a small picture, to judge the water by, not sharpness.\n"
        "Side by side, the right picture is made as bright and of the same cast as the left, in linear light, over what"
        " is clipped in neither; by how much is shown below. Two are cut so that they fill the screen; w shows them"
        " whole. Below, the strip: the same part of every rung, decoded from the raw files, alike in brightness and"
        " colour by their rock, as far as it was read; along it a stop is as wide everywhere. Your choices are kept in"
        " the outing's choices.toml."
    )
    OWN = (
        ("↑ ↓", "the frame"),
        ("← →", "along the strip: the next faster, the next slower rung; or click into it"),
        ("c", "keep this frame on the left, and see others beside it; once more: alone again"),
        ("z", "look closer: 2, 4, 8 times; then the whole again; both pictures show the same part"),
        ("w", "the whole picture, or as much as fills the room"),
        ("⇧←→↑↓", "move the part that is looked at; or click into a picture"),
        ("k m n u", "keep, maybe, no; u: not decided"),
        ("o", "a note"),
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "step(-1)", show=False),
        Binding("down", "step(1)", show=False),
        Binding("left", "along(-1)", show=False, priority=True),
        Binding("right", "along(1)", show=False, priority=True),
        Binding("c", "compare", show=False),
        Binding("w", "whole", show=False),
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
        self._tells: Outing | None = None
        self._frames: tuple[FrameStory, ...] = ()
        self._choices: dict[int, Choice] = {}
        self._lines: dict[int, tuple[FrameStory, Choice, str]] = {}
        self._known: tuple[LadderStory, dict[int, Choice], list[Candidate]] | None = None
        self._left: int | None = None
        self._zoom = 1
        self._centre = (0.5, 0.5)
        self._moved = False
        self._whole: bool | None = None
        self._trouble = ""
        self._strip: list[Candidate] = []
        self._pictures_of_strip: StripPictures | None = None
        self._looked_at: list[Candidate] = []
        self._wanted = asyncio.Event()

    def middle(self) -> ComposeResult:
        yield TextLine(id="choices-trouble")
        with Horizontal(id="frames-room"):
            yield Lines(id="list")
            with Vertical(id="pictures"):
                with Horizontal(id="blocks"):
                    yield HalfBlocks(id="left")
                    yield HalfBlocks(id="right")
                yield TextLine(id="told")
        yield StripRow(id="strip")

    def on_mount(self) -> None:
        self.query_one(Lines).focus()
        self._pictures_of_strip = StripPictures(self.desk.crops())
        self.run_worker(self._bring_pictures(self._pictures_of_strip, self.query_one(StripRow)), exit_on_error=False)

    async def on_unmount(self) -> None:
        """End the process that makes the strip's pictures."""
        if self._pictures_of_strip is not None:
            await self._pictures_of_strip.close()

    def keys(self) -> Sequence[Key]:
        """Return what can be done with a frame."""
        if not self._frames:
            return ()
        return (
            Key(key="↑ ↓", label="frame", action="screen.step(1)"),
            *([Key(key="← →", label="faster, slower", action="screen.along(1)")] if self._strip else []),
            Key(key="k", label="keep", action="screen.choose('keep')"),
            Key(key="m", label="maybe", action="screen.choose('maybe')"),
            Key(key="n", label="no", action="screen.choose('no')"),
            Key(key="u", label="undecided", action="screen.choose('')"),
            Key(key="o", label="note", action="screen.note"),
            Key(key="c", label="alone" if self._left is not None else "compare", action="screen.compare"),
            Key(key="z", label=f"closer (now {self._zoom}×)", action="screen.closer"),
            *([Key(key="w", label=self._whole_label(), action="screen.whole")] if self._zoom == 1 else []),
            *([Key(key="⇧←→↑↓", label="move", action="screen.move(1, 0)")] if self._cut.fill else []),
        )

    def _whole_label(self) -> str:
        return "whole (now cut to fill)" if self._cut.fill else "fill (now whole)"

    @property
    def _cut(self) -> Cut:
        """What is shown of a picture: alone it is whole, two are cut to fill their rooms, until the person says so."""
        whole = self._left is None if self._whole is None else self._whole
        return Cut(zoom=self._zoom, centre=self._centre, fill=self._zoom > 1 or not whole)

    # Drawing -----------------------------------------------------------------------------------------------------

    def draw(self) -> None:
        self._read()
        super().draw()
        self.line("choices-trouble", self._trouble)
        self._strip = self._of_strip()
        self._list()
        self._pictures()
        self._draw_strip()

    def _read(self) -> None:
        self._tells, outing = self.desk.told(), self.desk.sight.outing
        frames = (frame for ladder in self._tells.ladders for frame in ladder.frames) if self._tells else ()
        self._frames = tuple(frame for frame in frames if frame.files)
        self._trouble = ""
        try:
            self._choices = read_choices(outing) if outing else {}
        except TetherError as error:
            self._choices, self._trouble = {}, str(error)

    def _list(self) -> None:
        listed = self.query_one(Lines)
        listed.say([self._line_of(frame, self._choices.get(frame.frame, Choice())) for frame in self._frames])
        listed.display = self._left is None or (self.size.width >= _BOTH_FROM and not self._strip)

    def _line_of(self, frame: FrameStory, choice: Choice) -> str:
        """Return a frame's line, made anew only where something of it has changed: there may be thousands."""
        made = self._lines.get(frame.frame)
        if made is None or made[0] is not frame or made[1] != choice:
            made = self._lines[frame.frame] = frame, choice, _listed(frame, choice)
        return made[2]

    @property
    def _chosen(self) -> FrameStory | None:
        return self.query_one(Lines).marked(self._frames)

    def _pictures(self) -> None:
        chosen = self._chosen
        beside = next((one for one in self._frames if one.frame == self._left), None)
        left, right = self.query_one("#left", HalfBlocks), self.query_one("#right", HalfBlocks)
        right.display = beside is not None
        half = (self.query_one("#blocks").size.width - 1) // 2  # both as wide, or one would be the larger
        left.styles.width = right.styles.width = half if beside is not None and half > 0 else "1fr"
        if beside is None or chosen is None:
            left.show(self._preview(chosen), cut=self._cut)
            self.line("told", self._told(chosen))
            return
        first, second = self._preview(beside), self._preview(chosen)
        made = _evened(second, first)
        left.show(first, cut=self._cut)
        right.show(made.picture if made else second, cut=self._cut)
        how = "Not evened out: there is too little that both show."
        if made:
            by = ", ".join(
                f"{name} {words.stops(stop)}" for name, stop in zip(_CHANNELS, made.brighter_stops, strict=True)
            )
            how = f"Evened out, the right one by {by} stop."
        by_side = (f"left:  {_short(beside)}{self._verdict(beside)}", f"right: {_short(chosen)}{self._verdict(chosen)}")
        self.line("told", *by_side, how)

    def _verdict(self, frame: FrameStory) -> str:
        choice = self._choices.get(frame.frame, Choice())
        return f": {choice.verdict}" if choice.verdict else ""

    def _preview(self, frame: FrameStory | None) -> Picture | None:
        outing: Path | None = self.desk.sight.outing
        return picture_in(outing / frame.preview) if outing and frame and frame.preview else None

    def _told(self, frame: FrameStory | None) -> str:
        if frame is None:
            return "No frame is copied yet."
        choice = self._choices.get(frame.frame, Choice())
        note = f"\nNote: {choice.note}" if choice.note else ""
        return f"{_short(frame)}\n{_said(frame)}{note}"

    # The strip ---------------------------------------------------------------------------------------------------

    def _of_strip(self) -> list[Candidate]:
        """Return the frames of the strip, those that are looked at among them; none where raw frames aren't there."""
        outing, told, chosen = self.desk.sight.outing, self._tells, self._chosen
        if outing is None or told is None or chosen is None or self.size.height < _STRIP_FROM:
            return []
        if self.size.width < 2 * LEAST_WIDE or (ladder := told.ladder(chosen.ladder)) is None:
            return []
        candidates = self._there(ladder, outing)
        looked = {one.rung: one for one in candidates if one.frame in (self._left, chosen.frame)}
        found = [looked.get(one.rung, one) for one in one_per_rung(candidates, chosen.ladder)]
        return sorted(found, key=lambda one: (one.at_stops, one.frame))

    def _there(self, ladder: LadderStory, outing: Path) -> list[Candidate]:
        """Return what can be chosen of a ladder, its raw frames there; looked for where journal or choices changed."""
        if self._known is None or self._known[0] is not ladder or self._known[1] != self._choices:
            found = [one for one in candidates_of(ladder, self._choices) if (outing / one.shown.frame).is_file()]
            self._known = ladder, self._choices, found
        return self._known[2]

    def _cells(self) -> tuple[str, ...]:
        ladder = self._tells.ladder(self._looked_at[0].ladder) if self._tells and self._looked_at else None
        return ladder.regions.cells if ladder and ladder.regions else ()

    def _draw_strip(self) -> None:
        """Show the frames of the strip, and have the pictures brought that are not there yet."""
        strip, chosen = self.query_one(StripRow), self._chosen
        strip.display = bool(self._strip)
        strip.styles.height = min(max(round(_STRIP_SHARE * self.size.height), _STRIP_LEAST), _STRIP_MOST)
        strip.say(self._strip, chosen.frame if chosen else None, self._left)
        self._looked_at = nearest_first(self._strip, chosen.frame if chosen else None)
        self._wanted.set()

    async def _bring_pictures(self, pictures: StripPictures, strip: StripRow) -> None:
        """Bring pictures of the part that is looked at, as often as there are others to bring."""
        while True:
            await self._wanted.wait()
            self._wanted.clear()
            wanted, outing = self._looked_at, self.desk.sight.outing
            if not wanted or outing is None:
                continue
            size = await pictures.survey(outing, [one.shown for one in wanted], self._cells())
            if size is None:
                continue
            if pictures.water is not None and not self._moved:
                self._moved, self._centre = True, pictures.water
                self.call_later(self._pictures)
            if strip.dots[1]:
                at, zoom, dots = self._centre, self._zoom, strip.dots
                asked = [(one.frame, crop_for(one.shown, size, at, zoom, dots)) for one in wanted]
                await pictures.make(asked, strip.show, until=self._wanted.is_set)

    @on(StripRow.Picked)
    def _pick(self, message: StripRow.Picked) -> None:
        self._go_to(message.frame)

    def _go_to(self, frame: int) -> None:
        listed = self.query_one(Lines)
        at = next((number for number, one in enumerate(self._frames) if one.frame == frame), None)
        if at is not None:
            listed.highlighted = at

    # What the person does ----------------------------------------------------------------------------------------

    @on(OptionList.OptionHighlighted)
    def _other_frame(self) -> None:
        self._strip = self._of_strip()
        self._pictures()
        self._draw_strip()

    def action_step(self, by: int) -> None:
        """Go to another frame, also where the list is hidden."""
        listed = self.query_one(Lines)
        if self._frames:
            listed.highlighted = min(max((listed.highlighted or 0) + by, 0), len(self._frames) - 1)

    def action_along(self, by: int) -> None:
        """Go to the next rung of the strip, faster or slower; from a frame that is not in it, to the first."""
        chosen = self._chosen
        at = next(
            (n for n, one in enumerate(self._strip) if chosen and one.frame == chosen.frame), -by if by > 0 else 1
        )
        if self._strip:
            self._go_to(self._strip[min(max(at + by, 0), len(self._strip) - 1)].frame)

    def action_whole(self) -> None:
        """Show pictures whole, or cut so that they fill their rooms."""
        self._whole = self._cut.fill
        self.draw()

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
        x, y = (
            min(max(at + by * _STEP * seen, seen / 2), 1 - seen / 2)
            for at, by, seen in zip(self._centre, (across, down), self.query_one("#left", HalfBlocks).seen, strict=True)
        )
        self._centre, self._moved = (x, y), True
        self._pictures()
        self._draw_strip()

    def on_click(self, event: events.Click) -> None:
        """Look at what was clicked."""
        if not isinstance(event.widget, HalfBlocks):
            return
        place = event.widget.place_of(event.x, event.y)
        if place is not None:
            self._centre = place
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
