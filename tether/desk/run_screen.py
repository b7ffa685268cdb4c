"""The run: the rung in hand, a countdown to be read from two metres, what is next, and what the frames said."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType

from tether import wording as words
from tether.control.commands import STOPS, WORDS, Verb
from tether.desk import views
from tether.desk.ladder_lines import ladder_lines, share_taken
from tether.desk.screens import MainScreen
from tether.desk.widgets import Key, Large, TextLine, steering
from tether.report import told

#: How often the countdown is looked at [s]; it is drawn where its figures have changed.
LOOKS_EVERY_S = 0.1
NO_RUN = "Nothing is running. Begin a ladder from a plan (1); the desk attaches by itself to a run that begins."
NO_RUN_HERE = "Nothing is running in this outing: its frames are under 5, what was made of its ladder under 6."
_NAMES = {" ": "space,enter"}
#: From so many lines on, how many of frames and of sentences are shown, and how high the ladder's bars are.
_ROOM = ((36, 9, 5, 6), (30, 6, 3, 3), (24, 5, 2, 1), (0, 1, 1, 0))
_STEER = Key(key="y a s n b d", label="steer", action="app.explain")
_JUDGE = Key(key="r f", label="regions", action="app.explain")
#: How finely it is shown how much of a rung is taken.
_STEPS = 40


def _binding(verb: Verb, key: str) -> Binding:
    action = f"app.stop('{verb}')" if verb in STOPS else f"app.say('{verb}')"
    return Binding(_NAMES.get(key, key), action, verb, show=False)


class RunScreen(MainScreen):
    """The run as it goes."""

    CALLED = "run"
    SHOWS = (
        "Large: how long until the shutter closes, by the run's clock; or what is happening.\n"
        "Ladder: a bar for each rung, as high as its time is long; ▲ is where the run is.\n"
        "Frames, the latest first. Headroom: stops until the water clips in one channel (whole: of the whole picture);"
        " ▒▒ and a share: clipped. Rock: stops brighter (+) or darker (-) than expected. Moved: of the rock since the"
        " base. Sharp: against the base.\n"
        "What the run said last is shown below; ! is trouble, > is what came of a key."
    )
    OWN = (
        *(
            ({" ": "space"}.get(word.key, word.key), f"{word.does}{' (while open)' if word.while_open else ''}")
            for word in WORDS
        ),
        ("A", "after a ladder: the same again for a new composition, with a new base"),
        ("B", "after a ladder that is not done: resume it"),
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        *(_binding(word.verb, word.key) for word in WORDS),
        Binding("A", "app.same_again", show=False),
    ]

    def middle(self) -> ComposeResult:
        yield TextLine(id="rung", classes="one")
        yield TextLine(id="now")
        yield Large(id="large")
        yield TextLine(id="closes", classes="one")
        yield TextLine(id="ladder", classes="rows")
        yield TextLine(id="next", classes="rows")
        yield TextLine(id="pending", classes="one")
        yield TextLine(id="regions", classes="one")
        yield TextLine(id="light", classes="one")
        yield TextLine(id="supplies", classes="one")
        yield TextLine(id="frames-head", classes="one")
        yield TextLine(id="frames", classes="rows")
        yield TextLine(id="said")

    _ladder: tuple[int, int, int, int] | None = None

    def on_mount(self) -> None:
        self.set_interval(LOOKS_EVERY_S, self.tick)

    def tick(self) -> None:
        """Count down, and say what is wrong, where this screen is to be seen."""
        if self.is_active:
            self._count()
            self.line("wrong", *self.desk.warnings())

    def keys(self) -> Sequence[Key]:
        """Return the verbs that have a meaning now first; the stops as one."""
        snapshot = self.desk.sight.snapshot
        if self.desk.sight.state != "attached" or snapshot.over:
            return self.desk.key_to_resume()
        held = snapshot.open is not None and snapshot.open.way == "held"
        return (
            *(steering("longer", "shorter", "close and keep") if held else ()),
            *(steering("answer") if snapshot.turn else ()),
            *(steering("take back") if snapshot.done else ()),
            *(steering("regions right", "regions wrong", short=_JUDGE) if views.regions(snapshot) else ()),
            *steering("go on" if snapshot.state == "paused" else "pause"),
            *steering("answer ahead", "again", "skip", "next", "brighter", "darker", short=_STEER),
            Key(key="q w X", label="stop…", action="app.stop('stop after this frame')"),
        )

    def draw(self) -> None:
        super().draw()
        snapshot = self.desk.sight.snapshot
        frames, sentences, _ = self._room
        sentences -= sentences > 1 and bool(views.pending(snapshot) or views.regions(snapshot))
        lines = views.frame_lines(snapshot, frames)
        self.line("rung", "" if self.desk.past else views.rung_line(snapshot))
        self.line("next", *self._next())
        self.line("pending", views.pending(snapshot))
        self.line("regions", views.regions(snapshot))
        self.line("supplies", views.supplies(snapshot))
        self.line("frames-head", views.FRAMES_HEAD if lines and frames > 1 else "")
        self.line("frames", *lines)
        self.line("said", *views.said_lines(snapshot)[:sentences])
        self.query_one("#said").styles.max_height = sentences
        self._count()

    def _next(self) -> tuple[str, ...]:
        """Say what the person is asked for next; of a ladder that is over, what comes after it."""
        sight = self.desk.sight
        if sight.snapshot.over and sight.outing:
            return views.after_run(sight.outing, self.desk.unfinished, by_key=self.desk.draft.start is not None)
        if self.desk.runs:
            return (told.next_turn(sight.snapshot),)
        return views.to_resume(sight.outing, self.desk.unfinished)

    def _count(self) -> None:
        sight = self.desk.sight
        if sight.clock is None:
            none = NO_RUN_HERE if self.desk.past else NO_RUN
            self.line("now", "Attaching to the run." if self.desk.attaching else none)
            self.query_one(Large).say("ATTACHING" if self.desk.attaching else "NO RUN")
            return
        now = views.now(sight.snapshot, self.desk.moments.run_ns(sight.clock), sight.left_open)
        self.line("now", now.sentence)
        self.line("closes", self._closes())
        day = self.desk.moments.day(sight.clock)
        self.line("light", views.light(sight.snapshot, day, self.size.width - 2) if sight.snapshot.planned else "")
        self._draw_ladder()
        self.query_one(Large).say(now.large, now.short)

    @property
    def _room(self) -> tuple[int, int, int]:
        return next((n, m, bars) for height, n, m, bars in _ROOM if self.size.height >= height)

    def _draw_ladder(self) -> None:
        """Draw the ladder, where that has changed: this is looked at as often as the countdown."""
        sight = self.desk.sight
        share = share_taken(sight.snapshot, self.desk.moments.run_ns(sight.clock)) if sight.clock else 0.0
        of = (sight.snapshot.stream, *self.size, int(share * _STEPS))
        if of != self._ladder:
            self._ladder = of
            self.line("ladder", "\n".join(ladder_lines(sight.snapshot, self.size.width - 2, self._room[2], share)))

    def _closes(self) -> str:
        """Say at what time of day, by the run's clock, the frame closes; empty while shut."""
        sight = self.desk.sight
        opened, clock = sight.left_open or sight.snapshot.open, sight.clock
        if opened is None or clock is None:
            return ""
        left_s = (opened.closes_at_ns - self.desk.moments.run_ns(clock)) / 1e9
        at = self.desk.moments.day(clock) + timedelta(seconds=left_s)
        rehearsed = "" if clock.tells_the_day else f" {words.REHEARSED_TIME}"
        paced = "" if clock.pace == 1 else f", {clock.pace:g} times as fast"
        return f"Frame {opened.frame} closes at {at:%H:%M:%S}{rehearsed}{paced}"
