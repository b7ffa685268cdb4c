"""The desk's app: holds what is known of the run, goes between the screens, and hands on what the person says."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from contextlib import suppress
from functools import partial
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar, Protocol

from textual.app import App, SystemCommand
from textual.binding import Binding, BindingType
from textual.message import Message
from textual.screen import Screen

from tether.control.attachment import Attachment, RunView, WordReply
from tether.control.commands import STOPS, WORDS, Verb, verb_of_key
from tether.control.registry import running
from tether.control.ringing import Ringer
from tether.desk import looks, views
from tether.desk.draft import DraftView, Keeps
from tether.desk.moments import Moments
from tether.desk.screens import PLACE_KEYS, Help, MainScreen, StopHow, wrong
from tether.desk.turn_screen import TurnScreen
from tether.desk.widgets import Key
from tether.editor.client import Drafting
from tether.editor.messages import Begin, Begun, Check, Drafted, EditorEvent, SameAgain, Start
from tether.errors import TetherError
from tether.journal.records import KeyTurn, Turn
from tether.journal.store import JOURNAL_NAME
from tether.journal.story import Outing
from tether.journal.telling import OutingReader

if TYPE_CHECKING:
    from tether.desk.draft_views import Summary
    from tether.desk.strip_pictures import Crops

_NO_PLAN_TO_BEGIN = (
    "A ladder is begun from a plan that is open, while none runs. To open one, leave (^q) and: tether desk PLAN"
)
#: A run that was there when the desk was opened is waited for so long before the outing's journal is read [s].
_ATTACHES_WITHIN_S = 2.0
_RESUMING = "The ladder is being resumed; the run comes up in a moment."


class RunLine(Protocol):
    """What the desk needs of its line to the run; see :class:`tether.control.attachment.Attachment`."""

    heard_s: float

    def start(self) -> None: ...
    def say(self, verb: Verb) -> None: ...
    def turn_to(self, outing: Path) -> None: ...
    def close(self) -> None: ...


def _place(name: str) -> MainScreen:
    """Make the screen of a name; its module is loaded when it is gone to, so that the first one is there sooner."""
    screen: type[MainScreen] = getattr(import_module(f"tether.desk.{name}_screen"), f"{name.capitalize()}Screen")
    return screen()


def _crops() -> Crops:
    """Make what gives parts of frames."""
    from tether.report.cropper import Cropper

    return Cropper("desk")


class LineHeard(Message):
    """Something came over the line, or from the process that plans."""

    def __init__(self, what: RunView | WordReply | EditorEvent) -> None:
        super().__init__()
        self.what = what


class Desk(App[None]):
    """A desk for one outing.

    Parameters
    ----------
    outing
        The outing's folder; None: whatever runs.
    start
        The plan that is worked on; None: none.
    moments
        What time it is.
    line, keep
        Make the line to the run, and the keeper of the process that plans.
    crops
        Makes what gives parts of frames; None: a process that does.
    sure
        Called once the first screen is there, before anything else is begun; a `TetherError` of it ends the desk.
    answer_key
        One more key that answers a turn, as people and as the terminal call it.
    ringer
        What rings beside the terminal's bell.

    Attributes
    ----------
    refused
        That error.
    """

    CSS_PATH = "desk.tcss"
    TITLE = "Tether"
    ENABLE_COMMAND_PALETTE = True
    BINDINGS: ClassVar[list[BindingType]] = [
        *(Binding(key, f"place('{name}')", name, show=False) for key, name in PLACE_KEYS),
        Binding("v", "look", "look", show=False),
        Binding("question_mark", "explain", "help", show=False),
        Binding("B", "resume", "resume", show=False),
        Binding("ctrl+c,ctrl+q", "leave", "leave", show=False, priority=True),
    ]
    MODES: ClassVar[dict[str, str | Callable[[], Screen[Any]]]] = {
        name: partial(_place, name) for _, name in PLACE_KEYS
    }

    def __init__(
        self,
        outing: Path | None,
        *,
        start: Start | None = None,
        moments: Moments | None = None,
        line: Callable[..., RunLine] = Attachment,
        keep: Callable[[Start, Callable[[EditorEvent], None]], Keeps] = Drafting,
        crops: Callable[[], Crops] | None = None,
        sure: Callable[[], None] = lambda: None,
        answer_key: tuple[str, str] | None = None,
        ringer: Ringer | None = None,
    ) -> None:
        # where it begins, so that no other screen is made before
        self.DEFAULT_MODE = _first_place(outing, start)  # type: ignore[misc]
        super().__init__()
        for theme in looks.THEMES:
            self.register_theme(theme)
        self._begin_in(looks.remembered(looks.kept_in()))
        self._answer_key = answer_key
        self._ringer = ringer
        self.crops = crops or _crops
        self.moments = moments or Moments()
        self.sight = RunView(outing=outing)
        self.refusal = ""
        self.why_not_told = ""
        """Why the outing's journal could not be read when it was read last."""
        self._journal: OutingReader | None = None
        self.line = line(outing, self._hear, waits=start is not None and outing is None)
        self.draft = DraftView(start, self._hear, keep)
        self.refused: TetherError | None = None
        self._sure = sure
        self.attaching = self.DEFAULT_MODE == "run"
        """Whether a run is there that will be attached to in a moment; what its outing told until now is not needed."""
        self._to_run = True
        self._warned = False
        self._asked: tuple[int, Turn | KeyTurn] | None = None
        self._turn: TurnScreen | None = None

    def on_mount(self) -> None:
        self.animation_level = "none"
        self.call_after_refresh(self._begin_work)

    def _begin_work(self) -> None:
        """Begin what takes a while, once the person sees something."""
        try:
            self._sure()
        except TetherError as error:
            self.refused = error
            self.exit()
            return
        self.line.start()
        self.draft.open()
        self.set_timer(_ATTACHES_WITHIN_S, self._attaches_no_more)

    def _attaches_no_more(self) -> None:
        if self.attaching:
            self.attaching = False
            self._draw()

    def on_unmount(self) -> None:
        self.line.close()
        self.draft.rest()

    # What the screens ask ----------------------------------------------------------------------------------------

    def titled(self, called: str) -> str:
        """Return what stands in the first line of a screen."""
        facts, state = self.sight.facts, self.draft.state
        if facts:
            title = facts.title
        elif state:
            title = state.ladder.plan if state.ladder else state.path
        else:
            title = self.sight.outing.name if self.sight.outing else "no outing"
        return f"TETHER  {title}  |  {called}"

    def marked(self) -> str:
        """Return the mark that stands on every screen: simulated, or a body file that was never tried."""
        facts, state = self.sight.facts, self.draft.state
        if facts is None and state is not None:
            return views.mark(state.ladder, state.simulated)
        seen = facts or (None if self.attaching else self.told())
        return views.mark(self.sight.snapshot.planned, seen.simulated if seen else None)

    def warnings(self) -> list[str]:
        """Return what is wrong or waits, a sentence each."""
        known = self.draft.known
        found = [wrong(self.sight, self.moments.real_s(), self.line.heard_s), self.refusal]
        told_there = isinstance(self.screen, MainScreen) and self.screen.tells_refusals
        found.append(known.said if known.refused and not told_there else "")
        found.append(self._ringer.trouble if self._ringer else "")
        turn = self.sight.snapshot.turn
        if turn and self._turn is None and self.sight.state == "attached":
            found.append(f"YOUR TURN: {turn.what}. Space on the run's screen: it is done.")
        return [one for one in found if one]

    @property
    def runs(self) -> bool:
        """Whether a run goes on that the desk is attached to, or was until just now."""
        return self.sight.state in ("attached", "lost")

    @property
    def past(self) -> bool:
        """Whether an outing is open that no run is attached to, or was."""
        return self.sight.clock is None and self.sight.outing is not None

    @property
    def unfinished(self) -> str:
        """How much is left of the outing's last ladder, in words; empty where it is done, or a run works on it."""
        snapshot = self.sight.snapshot
        if snapshot.over:
            return views.left_of(snapshot.over.outcome, snapshot.planned, snapshot.rungs)
        told = None if self.runs or self.attaching else self.told()
        if told and told.ladders:
            last = told.ladders[-1]
            return views.left_of(last.outcome, last.planned, last.rungs)
        return views.NOT_DONE if self.sight.state == "gone" else ""

    def key_to_resume(self) -> tuple[Key, ...]:
        """Return the key that goes on with a ladder, where one can be gone on with."""
        return (Key(key="B", label="resume", action="app.resume"),) if self.unfinished else ()

    @property
    def unsaved(self) -> Drafted | None:
        """The plan that was changed and not saved; None: nothing is lost by leaving."""
        state = self.draft.state
        return state if state and not state.saved else None

    def told(self) -> Outing | None:
        """Return what the outing's journal tells; None where there is none that can be read."""
        self.why_not_told = ""
        if self.sight.outing is None or not (self.sight.outing / JOURNAL_NAME).exists():
            return None
        if self._journal is None or self._journal.folder != self.sight.outing:
            self._journal = OutingReader(self.sight.outing)
        try:
            return self._journal.now()
        except TetherError as error:
            self.why_not_told = str(error)
            return None

    def _read_ahead(self, journal: OutingReader) -> None:
        """Read what the outing told so far, so that frames and log are there at once when they are gone to."""
        with suppress(TetherError):
            journal.now()
        self._journal = self._journal or journal

    # What comes over the line ------------------------------------------------------------------------------------

    def _hear(self, what: RunView | WordReply | EditorEvent) -> None:
        """Pass on what came, from the threads that listen."""
        self.post_message(LineHeard(what))

    def on_line_heard(self, message: LineHeard) -> None:
        """Take in a sight or a reply."""
        match message.what:
            case WordReply():
                self._reply(message.what)
            case RunView():
                self._see(message.what)
            case Begun():
                self._begun(Path(message.what.outing))
            case _:
                self._news(message.what)
        self._draw()

    def _news(self, news: EditorEvent) -> None:
        first = self.draft.state is None
        self.draft.hear(news)
        if first and isinstance(news, Drafted) and not news.mistakes:
            self.draft.wish(Check())

    def _begun(self, outing: Path) -> None:
        """Turn to a run that was begun; the process that began it is not needed meanwhile."""
        self.draft.rest()
        self._to_run = True
        self.line.turn_to(outing)

    def _reply(self, reply: WordReply) -> None:
        self.refusal = "" if reply.ok else reply.sentence
        if reply.verb == "answer" and self._turn is not None:
            self._turn.told(reply.ok, reply.sentence)

    def _see(self, sight: RunView) -> None:
        before, self.sight = self.sight, sight
        self.attaching = self.attaching and sight.state == "none" and not sight.why_not
        if sight.state == "attached" and before.state == "none" and sight.outing is not None:
            self.run_worker(partial(self._read_ahead, OutingReader(sight.outing)), thread=True, exit_on_error=False)
        if sight.state == "attached" and sight.attached > before.attached and self._to_run:
            self._to_run = False
            self.switch_mode("run")
        turn = sight.snapshot.turn if self.runs else None
        asked = (sight.attached, turn) if turn else None
        if asked == self._asked:
            return
        self._asked = asked
        if self._turn is not None:
            self._turn.over()
        self._turn = None
        if asked is not None:
            at_once = sight.snapshot.state == "waiting for your key"
            screen = TurnScreen(asked[1], at_once=at_once, answer_key=self._answer_key)
            self._turn = screen
            self.push_screen(screen, lambda _: self._turn_closed(screen))

    def _turn_closed(self, turn: TurnScreen) -> None:
        """Note that a turn's screen was closed, by its end or by the person; another may have come since."""
        if self._turn is turn:
            self._turn = None
        self._draw()

    def _draw(self) -> None:
        shown = self.screen_stack[-1] if self.screen_stack else None  # none any more while the desk is left
        if isinstance(shown, MainScreen) and shown.is_mounted:  # else it draws itself once it is
            shown.draw()

    # What the person does ----------------------------------------------------------------------------------------

    def _say(self, sentence: str) -> None:
        """Say a sentence on whichever screen is shown."""
        self.refusal = sentence
        self._draw()

    def ring(self) -> None:
        """Ring, as loud as there are means."""
        self.bell()
        if self._ringer is not None:
            self._ringer.ring()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Take no verb from the key that answers turns: a press that comes late must steer nothing."""
        if action == "say" and self._answer_key is not None and parameters[:1] == (verb_of_key(self._answer_key[1]),):
            return parameters == ("answer",)
        return super().check_action(action, parameters)

    def action_say(self, verb: Verb) -> None:
        """Say a word to the run, by key, click or palette."""
        self.refusal = ""
        self.line.say(verb)

    def action_stop(self, meant: Verb) -> None:
        """Ask how to stop; `meant` is marked."""
        self.push_screen(StopHow(meant, self.action_say))

    def action_place(self, name: str) -> None:
        """Go to one of the screens."""
        self.switch_mode(name)

    def open_plan(self, start: Start) -> None:
        """Open a plan to work on."""
        self.draft.open(start)
        self._draw()

    def action_begin(self) -> None:
        """Ask once more, then begin the ladder as it is drafted; a second one goes into the same outing.

        Where no plan is open, the outing's last ladder is gone on with.
        """
        if self.draft.state is None and self.unfinished and self.sight.outing is not None:
            self.action_resume()
            return
        if self.draft.state is None or self.runs:
            self._say(_NO_PLAN_TO_BEGIN)
            return
        outing = self.sight.outing if self.sight.state == "over" else None
        wish = Begin(despite=self.draft.despite, outing=None if outing is None else str(outing))
        from tether.desk import draft_views

        draft = self.draft
        found = draft_views.summary(draft.known, draft.despite, self.moments.wall(), draft.pace, outing)
        self._ask_to_begin("begin", found, lambda: self.draft.wish(wish))

    def _ask_to_begin(self, called: str, found: Summary, begin: Callable[[], object]) -> None:
        from tether.desk.begin_screen import BeginScreen

        self.push_screen(BeginScreen(called, found, begin))

    def action_resume(self) -> None:
        """Ask once more, then go on with the outing's last ladder where it is not done; else begin one."""
        outing, left = self.sight.outing, self.unfinished
        if outing is None or not left:
            self.action_begin()
            return
        from tether.desk import draft_views

        self._ask_to_begin("resume", draft_views.resuming(outing, left), lambda: self._resume(outing))

    def _resume(self, outing: Path) -> None:
        self.draft.rest()
        self._say(_RESUMING)
        self.run_worker(partial(self._go_on, outing), thread=True)

    def _go_on(self, outing: Path) -> None:
        """Have the ladder gone on with, once the camera is let go; in a thread, for it takes a while."""
        from tether.desk import resuming

        self.draft.wait()
        why_not = resuming.resumed(outing)
        self._hear(WordReply(verb="go on", ok=not why_not, sentence=why_not))
        if not why_not:
            self._hear(Begun(outing=str(outing)))

    def action_same_again(self) -> None:
        """Have a ladder like the last one begun for a new composition, once that is over."""
        if self.sight.state != "over" or self.sight.outing is None or self.draft.start is None:
            self._say("The same again is begun once a ladder is over that was begun at this desk.")
            return
        self.draft.wish(SameAgain(outing=str(self.sight.outing)))

    def action_look(self) -> None:
        """Take the next look, and remember it."""
        look = looks.after(self.theme)
        self.take_look(look)
        self._say(looks.remember(looks.kept_in(), look) or "")

    def _begin_in(self, look: looks.Look) -> None:
        """Have the first screen drawn in a look; told of later, all that was read of how things look is read again."""
        self.set_reactive(App.theme, look)
        self._styled_by = self.get_css_variables()
        self.stylesheet.set_variables(self._styled_by)
        self._dress(look)

    def refresh_css(self, animate: bool = True) -> None:
        """Read the style sheets anew where the look is another; the library would for each new screen too."""
        variables = self.get_css_variables()
        if variables != self._styled_by:
            self._styled_by = variables
            super().refresh_css(animate)
        else:
            self.stylesheet.update(self, animate=animate)

    def take_look(self, look: looks.Look) -> None:
        """Draw the desk in a look."""
        self.theme = look
        self._dress(look)

    def _dress(self, look: looks.Look) -> None:
        for one in looks.LOOKS:
            self.set_class(one == look, f"look-{one}")

    def action_explain(self) -> None:
        """Explain the screen that is shown."""
        if isinstance(self.screen, MainScreen | TurnScreen):
            self.push_screen(Help(self.screen))

    def action_leave(self) -> None:
        """Leave; the run goes on. What is not saved is spoken of once."""
        if self.unsaved and not self._warned:
            self._warned = True
            self._say(f"{self.unsaved.path} is not saved: S on the ladder (3) saves it; ^q once more leaves it so.")
            return
        self.exit()

    def get_system_commands(self, screen: Screen[Any]) -> Iterable[SystemCommand]:  # noqa: ARG002 - as its base has it
        """Give all that can be done, for the palette."""
        for word in WORDS:
            do = self.action_stop if word.verb in STOPS else self.action_say
            yield SystemCommand(word.verb, f"{word.does}  [{word.key.replace(' ', 'space')}]", partial(do, word.verb))
        for name in self.MODES:
            yield SystemCommand(f"go to: {name}", f"show the {name}", partial(self.action_place, name))
        for look in looks.LOOKS:
            yield SystemCommand(f"look: {look}", "how the desk is drawn", partial(self.take_look, look))
        yield SystemCommand("help", "what is shown, and what the keys do", self.action_explain)
        yield SystemCommand("leave", "leave the desk; the run continues", self.action_leave)


def _first_place(outing: Path | None, start: Start | None) -> str:
    """Return where the desk begins: at the plan that is worked on, at what an outing told, or at what runs."""
    if start is not None:
        return "body"
    if outing is None:
        return "run" if running() else "body"
    return "run" if any(one.outing == outing.resolve() for one in running()) else "log"
