"""What all screens of the desk share: the first line, what is wrong or waits, the keys; and small screens over them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, ClassVar, TypeVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.screen import ModalScreen, Screen
from textual.widgets import Input

from tether.control.attachment import RunView
from tether.control.commands import STOPS, WORDS, Verb
from tether.desk.views import SILENT_S, leaving_now
from tether.desk.widgets import Head, Key, Keys, TextLine, Typed

if TYPE_CHECKING:
    from tether.desk.app import Desk

T = TypeVar("T")

#: The screens in the order in which a person walks through them, each on its key.
PLACE_KEYS = (("1", "body"), ("2", "base"), ("3", "ladder"), ("4", "run"), ("5", "frames"), ("6", "log"))
_ANY_PLACE = Key(key="1-6", label="screens", action="app.explain")
#: The keys that do the same on every screen.
PLACES = (
    *(Key(key=key, label=name, action=f"app.place('{name}')", short=_ANY_PLACE) for key, name in PLACE_KEYS),
    Key(key="v", label="look", action="app.look"),
    Key(key="question_mark", label="help", action="app.explain"),
    Key(key="ctrl+p", label="all", action="app.command_palette"),
    Key(key="ctrl+q", label="leave", action="app.leave"),
)

_EVERYWHERE = (
    ("1 to 6", "go to body, base, ladder, run, frames, log"),
    ("v", "the next look: plain; bright, for sunlight; ember, dark red, for eyes used to the night"),
    ("^p", "all that can be done, to be found by typing"),
    ("^q ^c", "leave the desk; the run continues"),
)


def wrong(sight: RunView, now_s: float, heard_s: float) -> str:
    """Say what is wrong between the desk and the run; empty where nothing is.

    Parameters
    ----------
    sight
        What the desk knows.
    now_s, heard_s
        Now, and when the run gave a sign of life last, by the machine's monotonic clock [s].
    """
    if sight.state == "lost":
        return (
            f"No word from the run for {max(now_s - sight.since_s, 0.0):.0f} s. The camera closes by itself at its"
            " moment; the desk attaches again as soon as the run is back. What is shown is what was known last."
        )
    if sight.state == "gone":
        return (
            "The run has ended without a result, and nothing will resume it by itself. See to the camera, then resume"
            " it: B."
        )
    if sight.state == "attached" and now_s - heard_s >= SILENT_S:
        return (
            f"No word from the run for {now_s - heard_s:.0f} s, though it is there: it hangs, or the machine is busy."
            " What is shown is what was known last."
        )
    return sight.why_not if sight.state == "none" else ""


class OfDesk(Screen[T]):
    """A screen of the desk: what it is called; for the help, what is shown on it, and what its own keys do."""

    CALLED: ClassVar[str] = ""
    SHOWS: ClassVar[str] = ""
    OWN: ClassVar[tuple[tuple[str, str], ...]] = ()

    @property
    def desk(self) -> Desk:
        """The app, as what it is."""
        return self.app  # type: ignore[return-value]


class MainScreen(OfDesk[None]):
    """One of the screens that the desk goes between."""

    def compose(self) -> ComposeResult:
        yield Head()
        yield TextLine(id="wrong")
        yield from self.middle()
        yield Keys()

    @property
    def tells_refusals(self) -> bool:
        """Whether a refusal is told in the middle of the screen, beside what is edited."""
        return False

    def middle(self) -> ComposeResult:
        """Give what is between the first lines and the keys."""
        raise NotImplementedError

    def line(self, name: str, *lines: str) -> None:
        """Say something in the line of text of that name; what is empty takes no room."""
        self.query_one(f"#{name}", TextLine).say("\n".join(one for one in lines if one))

    def keys(self) -> Sequence[Key]:
        """Return what can be done here, now."""
        return ()

    def draw(self) -> None:
        """Draw anew what may have changed."""
        desk = self.desk
        self.query_one(Head).say(desk.titled(self.CALLED), desk.marked())
        self.line("wrong", *desk.warnings())
        self.query_one(Keys).offer((*self.keys(), *PLACES))

    def on_screen_resume(self) -> None:
        self.draw()

    def on_resize(self) -> None:
        self.draw()


class Over(OfDesk[T], ModalScreen[T]):
    """A screen over the others that still has the first line, and can be left like the others."""

    VERTICAL_BREAKPOINTS = [(0, "-low"), (30, "-high")]  # noqa: RUF012 - no class variable to its base
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "dismiss", "back", show=False),
        Binding("ctrl+c,ctrl+q", "app.leave", "leave", show=False, priority=True),
    ]

    def head(self, called: str) -> Head:
        """Make the first line."""
        head = Head()
        head.say(self.desk.titled(called), self.desk.marked())
        return head


class Asked(Over[str]):
    """Asks for a line of text.

    Parameters
    ----------
    called, question
        What the screen is called, and what the text is for.
    text, placeholder
        What it was before, and what stands in its place while it is empty.
    keep, leave
        What enter and escape are called.
    """

    def __init__(self, called: str, question: str, text: str, placeholder: str, keep: str, leave: str) -> None:
        super().__init__()
        self._called = called
        self._question = question
        self._typed = Typed(text, placeholder=placeholder, select_on_focus=False)
        self._keys = (
            Key(key="enter", label=keep, action="screen.keep"),
            Key(key="escape", label=leave, action="screen.dismiss"),
        )

    def compose(self) -> ComposeResult:
        yield self.head(self._called)
        yield TextLine(self._question, id="question")
        yield self._typed
        yield Keys(*self._keys)

    @on(Input.Submitted)
    def action_keep(self) -> None:
        """Keep the text."""
        self.dismiss(self._typed.value)


class Help(Over[None]):
    """What is shown, and what every key does here."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("question_mark", "dismiss", "back", show=False)]

    def __init__(self, shown: OfDesk[Any]) -> None:
        super().__init__()
        self._shown = shown

    def compose(self) -> ComposeResult:
        yield self.head(f"help: {self._shown.CALLED}")
        with VerticalScroll():
            keys = "\n".join(f"{key:>9}  {does}" for key, does in (*self._shown.OWN, *_EVERYWHERE))
            yield TextLine(f"{self._shown.SHOWS}\n\n{keys}", id="help")
        yield Keys(
            Key(key="↑ ↓", label="more", action="screen.dismiss"),
            Key(key="escape", label="back", action="screen.dismiss"),
        )


#: How a verb is called where the person reads it beside what it does.
_CALLED: dict[Verb, str] = {"drop everything": "leave at once"}


class StopHow(Over[None]):
    """Asks once how to stop."""

    BINDINGS: ClassVar[list[BindingType]] = [
        *(Binding(word.key, f"stop('{word.verb}')", word.verb, show=False) for word in WORDS if word.verb in STOPS),
        Binding("enter", "stop_meant", "stop", show=False),
    ]

    def __init__(self, meant: Verb, stop: Callable[[Verb], None]) -> None:
        super().__init__()
        self._meant = meant
        self._stop = stop

    def compose(self) -> ComposeResult:
        yield self.head("stop")
        yield TextLine("Stop how?", id="question")
        ways = [word for word in WORDS if word.verb in STOPS]
        for word in ways:
            meant = "→" if word.verb == self._meant else " "
            at_once = word.verb == "drop everything"
            does = f"close now and {leaving_now(self.desk.sight.snapshot)}" if at_once else word.does
            yield TextLine(f"{meant} {word.key}  {does}", classes="way")
        yield Keys(
            *(
                Key(key=one.key, label=_CALLED.get(one.verb, one.verb), action=f"screen.stop('{one.verb}')")
                for one in ways
            ),
            Key(key="enter", label="as marked →", action="screen.stop_meant"),
            Key(key="escape", label="do not stop", action="screen.dismiss"),
        )

    def action_stop(self, verb: Verb) -> None:
        """Stop in one of the three ways."""
        self.dismiss()
        self._stop(verb)

    def action_stop_meant(self) -> None:
        """Stop in the way that was asked for first."""
        self.action_stop(self._meant)
