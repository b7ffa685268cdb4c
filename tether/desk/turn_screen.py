"""“Your turn”, over the whole screen until it is answered: flashing, ringing, and answered by space or enter."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from textual import events
from textual.app import ComposeResult

from tether.control.commands import STOPS, WORDS, Verb
from tether.desk.screens import PLACE_KEYS, Over
from tether.desk.widgets import Key, Keys, Large, TextLine
from tether.journal.records import KeyTurn, Turn
from tether.report import told

RINGS_EVERY_S = 20.0
#: How long it is shown one way, then the other [s]: half a flash a second.
FLASHES_EVERY_S = 1.0
#: A new question takes no key before this [s]: what comes sooner was meant for what was there before.
DEAF_S = 2.0
#: Keys do not answer before this long without one [s]: who is typing something else does not mean this.
QUIET_S = 1.0


#: The keys that say that it is done, and what they are called together.
ANSWERS = ("space", "enter")
ANSWERED_BY = "Space or enter"
_HELP = Key(key="question_mark", label="help", action="app.explain")
#: Verbs that have a meaning of their own while it is the person's turn.
MEANT: tuple[Verb, ...] = ("again", "skip", "not in the bag", "next", "pause", "go on", "brighter", "darker")


class TurnScreen(Over[None]):
    """Asks for one turn.

    Parameters
    ----------
    turn
        What the person is asked for.
    at_once
        Whether a key answers from the first moment on: where a frame waits for the person's key.
    answer_key
        One more key that answers, as people and as the terminal call it.
    """

    VERTICAL_BREAKPOINTS = [(0, "-tiny"), (22, "-low"), (30, "-high")]  # noqa: RUF012 - no class variable to its base
    CALLED = "your turn"
    SHOWS = (
        "What you are asked for, and why. Space or enter says that it is done, and no other key.\n"
        "It rings every 20 s until it is answered. A key that comes within two seconds of the question, or within one"
        " of another key, does not count: whoever is typing something else does not mean this."
    )
    OWN = (
        ("space", "it is done; so does enter"),
        *((word.key, word.does) for word in WORDS if word.verb in MEANT or word.verb in STOPS),
        ("esc", "look at the run first; space there says that it is done"),
    )

    def __init__(
        self, turn: Turn | KeyTurn, *, at_once: bool = False, answer_key: tuple[str, str] | None = None
    ) -> None:
        super().__init__()
        self._answers = ANSWERS if answer_key is None else (*ANSWERS, answer_key[1])
        self._answered_by = ANSWERED_BY
        if answer_key is not None and answer_key[1] not in ANSWERS:
            self._answered_by = f"Space, enter or {answer_key[0]}"
        self.turn = turn
        self._at_once = at_once
        self._over = False
        self._answered = False
        self._rung_s: float | None = None
        self._shown_s = 0.0
        self._pressed_s = 0.0

    def compose(self) -> ComposeResult:
        yield self.head("your turn")
        yield TextLine(id="wrong")
        yield Large("YOUR TURN", id="large")
        yield Large(self.turn.what, id="what")
        yield TextLine(self.turn.reason, id="reason")
        done, left_out = ("yes", "no") if self.turn.what.endswith("?") else ("it is done", "leave it out")
        if waiting := told.waiting_costs(self.turn):
            yield TextLine(waiting, id="waiting")
        yield TextLine(f"{self._answered_by}: {done}.", id="answer")
        has_not = told.asks_for_filters(self.turn)
        others = [f"s: {left_out}; {self.turn.otherwise}."] if self.turn.otherwise else []
        others += ["m: not in the bag; the ladder without it is told first."] if has_not else []
        if others:
            yield TextLine("\n".join(others), id="otherwise")
        yield Keys(
            Key(key="space", label=done, action="screen.answer"),
            Key(key="s", label=left_out, action="app.say('skip')"),
            *([Key(key="m", label="not in the bag", action="app.say('not in the bag')")] if has_not else []),
            Key(key="p", label="pause", action="app.say('pause')", short=_HELP),
            Key(key="a n g b d", label="steer", action="app.explain", short=_HELP),
            Key(key="v", label="look", action="app.look", short=_HELP),
            _HELP,
            Key(key="q w X", label="stop…", action="app.stop('stop after this frame')"),
            Key(key="1-6", label="elsewhere", action="screen.leave_for('ladder')"),
            Key(key="escape", label="see the run first", action="screen.dismiss"),
        )

    def on_mount(self) -> None:
        self._shown_s = self._pressed_s = self.desk.moments.real_s()
        self.set_interval(FLASHES_EVERY_S / 4, self.tick)
        self.tick()

    def tick(self) -> None:
        """Flash and ring where it is time; both end with the answer."""
        now_s = self.desk.moments.real_s()
        flash = int((now_s - self._shown_s) / FLASHES_EVERY_S) % 2 == 1
        self.set_class(flash and not self._answered, "flash")
        if not self._answered and (self._rung_s is None or now_s - self._rung_s >= RINGS_EVERY_S):
            self._rung_s = now_s
            self.desk.ring()
        self.query_one("#wrong", TextLine).say("\n".join(self.desk.warnings()))

    def on_key(self, event: events.Key) -> None:
        """Do what a key means; nothing where it comes too soon, or means nothing here."""
        if event.key in ("escape", "ctrl+c", "ctrl+q"):
            return
        event.stop()
        event.prevent_default()
        now_s = self.desk.moments.real_s()
        quiet_s, self._pressed_s = now_s - self._pressed_s, now_s
        answers = event.key in self._answers
        act = self.action_answer if answers else self._meant(event.character or event.key)
        if act is None:
            self._say(f"{self._answered_by}: it is done. No other key says so.")
        elif self._at_once and answers:
            act()
        elif now_s - self._shown_s < DEAF_S:
            key = event.key if event.character in (None, " ") or not event.is_printable else event.character
            self._say(f"{key} came within {DEAF_S:g} s of the question and was not taken. Press it again.")
        elif quiet_s < QUIET_S:
            self._say("Was this key meant for this? Press it once more in a moment.")
        else:
            act()

    def _say(self, sentence: str) -> None:
        self.query_one("#answer", TextLine).say(sentence)

    def _meant(self, key: str) -> Callable[[], None] | None:
        """Return what a key does here; None: nothing."""
        word = next((one for one in WORDS if one.key == key and (one.verb in MEANT or one.verb in STOPS)), None)
        if word is not None:
            return partial(self.desk.action_stop if word.verb in STOPS else self.desk.action_say, word.verb)
        place = dict(PLACE_KEYS).get(key)
        if place is not None:
            return partial(self.action_leave_for, place)
        return {"v": self.desk.action_look, "?": self.desk.action_explain}.get(key)

    def action_leave_for(self, name: str) -> None:
        """Look at another screen; the turn waits, and is spoken of there."""
        self.dismiss()
        self.app.call_later(self.desk.action_place, name)

    def action_answer(self) -> None:
        """Say that it is done."""
        self.desk.action_say("answer")

    def told(self, ok: bool, sentence: str) -> None:
        """Take in what came of the answer: it rings on where it was not heard."""
        self._answered = ok
        self._say(sentence)
        self.tick()

    def over(self) -> None:
        """Close, now or as soon as nothing is over this screen."""
        self._over = True
        self._close()

    def on_screen_resume(self) -> None:
        self._close()

    def _close(self) -> None:
        if self._over and self.is_active:
            self._over = False  # once: the screen is resumed as often as something over it goes
            self.dismiss()
