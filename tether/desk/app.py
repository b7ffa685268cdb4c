"""The desk's app: holds what is known of the run, goes between the screens, and hands on what the person says."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any, ClassVar, Protocol

from textual.app import App, SystemCommand
from textual.binding import Binding, BindingType
from textual.message import Message
from textual.screen import Screen

from tether.desk import looks, views
from tether.desk.frames_screen import FramesScreen
from tether.desk.link import Link, Reply, Sight
from tether.desk.log_screen import LogScreen
from tether.desk.moments import Moments
from tether.desk.run_screen import RunScreen
from tether.desk.screens import Help, Place, StopHow, wrong
from tether.desk.turn_screen import TurnScreen
from tether.errors import TetherError
from tether.journal.story import Outing
from tether.journal.telling import read_outing
from tether.run.commands import STOPS, WORDS, Verb
from tether.run.events import YourTurn


class Line(Protocol):
    """What the desk needs of its line to the run; see :class:`tether.desk.link.Link`."""

    heard_s: float

    def start(self) -> None: ...
    def say(self, verb: Verb) -> None: ...
    def close(self) -> None: ...


class Told(Message):
    """Something came over the line."""

    def __init__(self, what: Sight | Reply) -> None:
        super().__init__()
        self.what = what


class Desk(App[None]):
    """A desk for one outing.

    Parameters
    ----------
    outing
        The outing's folder; None: whatever runs.
    moments
        What time it is.
    line
        Makes the line to the run.
    """

    CSS_PATH = "desk.tcss"
    TITLE = "Tether"
    ENABLE_COMMAND_PALETTE = True
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("1", "place('run')", "run", show=False),
        Binding("2", "place('frames')", "frames", show=False),
        Binding("3", "place('log')", "log", show=False),
        Binding("v", "look", "look", show=False),
        Binding("question_mark", "explain", "help", show=False),
        Binding("ctrl+c,ctrl+q", "leave", "leave", show=False, priority=True),
    ]
    MODES: ClassVar[dict[str, str | Callable[[], Screen[Any]]]] = {
        "run": RunScreen,
        "frames": FramesScreen,
        "log": LogScreen,
    }
    DEFAULT_MODE = "run"

    def __init__(
        self,
        outing: Path | None,
        *,
        moments: Moments | None = None,
        line: Callable[[Path | None, Callable[[Sight | Reply], None]], Line] = Link,
    ) -> None:
        super().__init__()
        self.moments = moments or Moments()
        self.sight = Sight(outing=outing)
        self.refusal = ""
        self.line = line(outing, self._hear)
        self._asked: tuple[int, YourTurn] | None = None
        self._turn: TurnScreen | None = None

    def on_mount(self) -> None:
        self.animation_level = "none"
        for theme in looks.THEMES:
            self.register_theme(theme)
        self.take_look(looks.remembered(looks.kept_in()))
        if self.sight.outing is not None:
            self.switch_mode("log")
        self.line.start()

    def on_unmount(self) -> None:
        self.line.close()

    # What the screens ask ----------------------------------------------------------------------------------------

    def titled(self, called: str) -> str:
        """Return what stands in the first line of a screen."""
        facts = self.sight.facts
        title = facts.title if facts else self.sight.outing.name if self.sight.outing else "no outing"
        return f"TETHER  {title}  |  {called}"

    def marked(self) -> str:
        """Return the mark that stands on every screen: simulated, or a body file that was never tried."""
        facts = self.sight.facts
        if facts is None:
            told = self.told()
            return views.mark(self.sight.snapshot, told.simulated if told else None)
        return views.mark(self.sight.snapshot, facts.simulated)

    def warnings(self) -> list[str]:
        """Return what is wrong or waits, a sentence each."""
        found = [wrong(self.sight, self.moments.real_s(), self.line.heard_s), self.refusal]
        turn = self.sight.snapshot.turn
        if turn and self._turn is None and self.sight.state == "attached":
            found.append(f"YOUR TURN: {turn.what}. Space on the run's screen: it is done.")
        return [one for one in found if one]

    def told(self) -> Outing | None:
        """Return what the outing's journal tells; None where there is none that can be read."""
        if self.sight.outing is None:
            return None
        try:
            return read_outing(self.sight.outing)
        except TetherError:
            return None

    # What comes over the line ------------------------------------------------------------------------------------

    def _hear(self, what: Sight | Reply) -> None:
        """Pass on what came, from the thread of the line."""
        self.post_message(Told(what))

    def on_told(self, message: Told) -> None:
        """Take in a sight or a reply."""
        if isinstance(message.what, Reply):
            self._reply(message.what)
        else:
            self._see(message.what)
        self._draw()

    def _reply(self, reply: Reply) -> None:
        self.refusal = "" if reply.ok else reply.sentence
        if reply.verb == "answer" and self._turn is not None:
            self._turn.told(reply.ok, reply.sentence)

    def _see(self, sight: Sight) -> None:
        before, self.sight = self.sight, sight
        if sight.state == "attached" and before.attached == 0:
            self.switch_mode("run")
        turn = sight.snapshot.turn if sight.state in ("attached", "lost") else None
        asked = (sight.attached, turn) if turn else None
        if asked == self._asked:
            return
        self._asked = asked
        if self._turn is not None:
            self._turn.over()
        self._turn = None
        if asked is not None:
            self._turn = TurnScreen(asked[1], at_once=sight.snapshot.state == "waiting for your key")
            self.push_screen(self._turn, lambda _: self._turn_closed())

    def _turn_closed(self) -> None:
        """Note that the turn's screen was closed, by its end or by the person."""
        self._turn = None
        self._draw()

    def _draw(self) -> None:
        if isinstance(self.screen, Place):
            self.screen.draw()

    # What the person does ----------------------------------------------------------------------------------------

    def say(self, verb: Verb) -> None:
        """Say a word to the run."""
        self.refusal = ""
        self.line.say(verb)

    def action_say(self, verb: Verb) -> None:
        """Say a word to the run, by key, click or palette."""
        self.say(verb)

    def action_stop(self, meant: Verb) -> None:
        """Ask how to stop; `meant` is marked."""
        self.push_screen(StopHow(meant, self.say))

    def action_place(self, name: str) -> None:
        """Go to one of the screens."""
        self.switch_mode(name)

    def action_look(self) -> None:
        """Take the next look, and remember it."""
        look = looks.after(self.theme)
        self.take_look(look)
        self.refusal = looks.remember(looks.kept_in(), look) or ""

    def take_look(self, look: looks.Look) -> None:
        """Draw the desk in a look."""
        self.theme = look
        for one in looks.LOOKS:
            self.set_class(one == look, f"look-{one}")

    def action_explain(self) -> None:
        """Explain the screen that is shown."""
        if isinstance(self.screen, Place):
            self.push_screen(Help(self.screen))

    def action_leave(self) -> None:
        """Leave; the run goes on."""
        self.exit()

    def get_system_commands(self, screen: Screen[Any]) -> Iterable[SystemCommand]:  # noqa: ARG002 - as its base has it
        """Give all that can be done, for the palette."""
        for word in WORDS:
            do = self.action_stop if word.verb in STOPS else self.say
            yield SystemCommand(word.verb, f"{word.does}  [{word.key.replace(' ', 'space')}]", _with(do, word.verb))
        for name in self.MODES:
            yield SystemCommand(f"go to: {name}", f"show the {name}", _with(self.action_place, name))
        for look in looks.LOOKS:
            yield SystemCommand(f"look: {look}", "how the desk is drawn", _with(self.take_look, look))
        yield SystemCommand("help", "what is shown, and what the keys do", self.action_explain)
        yield SystemCommand("leave", "leave the desk; the run goes on", self.action_leave)


def _with(do: Callable[..., None], value: object) -> Callable[[], None]:
    return lambda: do(value)
