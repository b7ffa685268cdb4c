"""The ladder: its rungs and why they are so; edited key by key, and planned again at once."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.widgets import Input, OptionList

from tether.desk import draft_views, ladder_views
from tether.desk.screens import MainScreen
from tether.desk.widgets import Key, Lines, TextLine, Typed
from tether.editor.messages import NEW_FILTER, NEW_RUNG, Edit, PlanKey, Save, Undo
from tether.journal.planned import PlannedLadder

#: From so many columns on keys and rungs stand side by side.
_BOTH_FROM = 118
_KEYS_WIDTH = 44
#: How often it is said anew when the ladder ends if it is begun now [s].
TELLS_EVERY_S = 15.0
_NONE = "No plan is open, and no ladder has begun."
_PAST = "No plan is open; what was made of this outing's ladder is under 6."


class LadderScreen(MainScreen):
    """The ladder that is drafted, or that runs."""

    CALLED = "ladder"
    SHOWS = (
        "Left, what the plan says; in brackets what counts where it says nothing. Right, the ladder that follows,"
        " planned again with every edit. Off: stops brighter (+) or darker (-) than wanted. ND: stops of filter.\n"
        "Below: why the marked rung is so, what it costs, what else there is; when the ladder ends; what is not"
        " possible with this kit; cautions. On a small screen tab goes between the plan and the rungs."
    )
    OWN = (
        ("↑ ↓", "the key, or the rung"),
        ("tab", "between the plan's keys and the rungs"),
        ("enter", "another value for the key, or wishes for the rung; enter once more takes it"),
        ("← →", "the choice before, the next one"),
        ("x", "remove the key, the filter, or the rung of its own"),
        ("m", "on the rungs: this one is a must-have, or not"),
        ("u", "undo the last edit"),
        ("S", "save the plan's file"),
        ("B", "begin the ladder"),
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("tab", "other", show=False, priority=True),
        Binding("left", "choice(-1)", show=False),
        Binding("right", "choice(1)", show=False),
        Binding("x,delete", "take_out", show=False),
        Binding("m", "must", show=False),
        Binding("u", "undo", show=False),
        Binding("S", "save", show=False),
        Binding("escape", "drop", show=False),
        Binding("B", "app.begin", show=False),
    ]

    def __init__(self) -> None:
        super().__init__()
        self._editing: PlanKey | None = None
        self._sent = 0
        self._on_rungs = False
        self._before: PlannedLadder | None = None
        self._shown: PlannedLadder | None = None

    def middle(self) -> ComposeResult:
        yield TextLine(id="plan")
        yield TextLine(id="doing")
        with Horizontal(id="ladder-room"):
            with Vertical(id="keys-room"):
                yield Lines(id="keys-list")
                yield Typed(id="value", select_on_focus=True)
                yield TextLine(id="hint")
            with Vertical(id="rungs-room"):
                yield TextLine(id="rungs-head", classes="one")
                yield Lines(id="rungs-list")
                with VerticalScroll(id="why-room", can_focus=False):
                    yield TextLine(id="why")

    def on_mount(self) -> None:
        self.query_one("#value").display = False
        self._focus()
        self.set_interval(TELLS_EVERY_S, self.tick)

    def tick(self) -> None:
        """Say anew when the ladder ends, where this screen is to be seen."""
        if self.is_active:
            self._tell()

    @property
    def tells_refusals(self) -> bool:
        """Whether a refusal is told here, beside what is edited."""
        return self._editing is not None

    def keys(self) -> Sequence[Key]:
        """Return what can be done with the plan."""
        if self.desk.draft.state is None:
            return ()
        if self._editing:
            return (
                Key(key="enter", label="take it", action="screen.take"),
                Key(key="escape", label="as it was", action="screen.drop"),
            )
        return (
            Key(key="tab", label="plan" if self._on_rungs else "rungs", action="screen.other"),
            *self._keys_of_side(),
            Key(key="u", label="undo", action="screen.undo"),
            Key(key="S", label="save", action="screen.save"),
            Key(key="B", label="begin the ladder", action="app.begin"),
        )

    def _keys_of_side(self) -> Sequence[Key]:
        if self._on_rungs:
            return (
                Key(key="m", label="must", action="screen.must"),
                Key(key="enter", label="must, frames around it", action="screen.wish"),
            )
        return (
            Key(key="enter", label="edit", action="screen.edit"),
            Key(key="← →", label="choose", action="screen.choice(1)"),
            Key(key="x", label="remove", action="screen.take_out"),
        )

    # Drawing -----------------------------------------------------------------------------------------------------

    def draw(self) -> None:
        self._answered()
        super().draw()
        known, snapshot = self.desk.draft.known, self.desk.sight.snapshot
        drafts = known.state is not None
        ladder = known.state.ladder if known.state else snapshot.planned
        if drafts and ladder is not None and ladder != self._shown:
            self._before, self._shown = self._shown, ladder
        both = self.size.width >= _BOTH_FROM
        self.query_one("#keys-room").display = drafts and (both or not self._on_rungs)
        self.query_one("#rungs-room").display = both or self._on_rungs or not drafts
        self.query_one("#keys-room").set_class(not both, "-alone")
        self.line("plan", draft_views.plan_line(known.state))
        self.line("doing", draft_views.doing_line(known))
        width = _KEYS_WIDTH - 3 if both else max(self.size.width - 3, 20)
        self.query_one("#keys-list", Lines).say(ladder_views.key_lines(known.state.keys if known.state else (), width))
        marked = ladder_views.changed(self._before, ladder) if drafts else ladder_views.marks(snapshot)
        room = self.size.width - 4 - (_KEYS_WIDTH if both and drafts else 0)
        lines = ladder_views.rungs_of(ladder, marked, room)
        self.query_one("#rungs-list", Lines).say(lines)
        self.line("rungs-head", ladder_views.RUNGS_HEAD if lines else "")
        self._tell()
        self._end_with_edited()

    def _tell(self) -> None:
        """Say of the marked rung and of the whole, and of the marked key."""
        known = self.desk.draft.known
        ladder = known.state.ladder if known.state else self.desk.sight.snapshot.planned
        now = self.desk.moments.wall() if known.state else None
        none = self.desk.draft.opening or (_PAST if self.desk.past else _NONE)
        mistakes = known.state.mistakes if known.state else (none,)
        ends, *whole = mistakes if ladder is None else ladder_views.whole_told(ladder, now, self.desk.draft.pace)
        self._hint(ends)
        why = self.query_one("#why", TextLine)
        if ladder is None:
            why.say("\n".join(mistakes))
            return
        number = self._number(ladder)
        marks = ladder_views.MARKS_OF_DRAFT if known.state else ladder_views.MARKS_OF_RUN
        why.say("\n".join((ends, *ladder_views.rung_told(ladder, number), *whole, marks)))

    def _number(self, ladder: PlannedLadder) -> int:
        """Return the number of the marked rung; 0: none is."""
        marked = self.query_one("#rungs-list", Lines).marked(ladder.rungs)
        return marked.rung if marked else 0

    def _hint(self, ends: str) -> None:
        """Say what the key may be, or why what was typed is not taken; what comes of it, where no rungs are beside."""
        known = self.desk.draft.known
        key = self._editing or self._key
        refused = f"! {known.said}" if self._editing and known.refused else ""
        hint = "" if key is None else ladder_views.key_hint(key)
        alone = self._editing is None and not self.query_one("#rungs-room").display
        self.line("hint", refused, hint, ends if alone else "")

    def _end_with_edited(self) -> None:
        """End the list of keys with the one that is edited, so that what is typed stands right under it."""
        keys = self.query_one("#keys-list", Lines)
        if self._editing is None or keys.highlighted is None:
            keys.styles.max_height = None
        else:
            keys.styles.max_height = max(keys.highlighted - round(keys.scroll_y) + 1, 1)
            keys.call_after_refresh(keys.scroll_to_highlight)

    @property
    def _key(self) -> PlanKey | None:
        state = self.desk.draft.state
        return self.query_one("#keys-list", Lines).marked(state.keys) if state else None

    def _focus(self) -> None:
        if self._editing:
            self.query_one("#value").focus()
        elif self.desk.draft.state is None or self._on_rungs:
            self.query_one("#rungs-list").focus()
        else:
            self.query_one("#keys-list").focus()

    @on(OptionList.OptionHighlighted)
    def _other_line(self) -> None:
        self._tell()

    # What the person does ----------------------------------------------------------------------------------------

    def action_other(self) -> None:
        """Go between the plan's keys and the rungs."""
        if self._editing is None and self.desk.draft.state is not None:
            self._on_rungs = not self._on_rungs
            self.draw()
            self._focus()

    @on(OptionList.OptionSelected, "#keys-list")
    def action_edit(self) -> None:
        """Ask for another value of the marked key; of two choices take the other one."""
        key = self._key
        if key is None:
            return
        if key.choices and key.key != "darker_by":
            self.desk.draft.wish(Edit(key=key.key, value=ladder_views.next_choice(key, 1)))
            return
        self._begin(key, key.value)

    def _begin(self, key: PlanKey, typed: str) -> None:
        """Ask for another value of a key, beginning with what is typed already."""
        self._editing = key
        value = self.query_one("#value", Input)
        value.select_on_focus = typed == key.value  # what is begun for the person is added to, not typed over
        value.value = typed
        value.cursor_position = len(typed)
        value.display = True
        self.draw()
        self._focus()

    @property
    def _rung_wish(self) -> tuple[str, bool, str] | None:
        state = self.desk.draft.state
        if state is None or state.ladder is None or not self._on_rungs or self._editing:
            return None
        return ladder_views.wish_of(state.ladder, self._number(state.ladder))

    def action_must(self) -> None:
        """Say of the marked rung that it must be had, or need not be."""
        wish = self._rung_wish
        if wish:
            time, must, around = wish
            self.desk.draft.wish(Edit(key=NEW_RUNG, value=ladder_views.wish_typed(time, not must, around)))

    @on(OptionList.OptionSelected, "#rungs-list")
    def action_wish(self) -> None:
        """Ask for what is wished for the marked rung, among the plan's keys."""
        wish, state = self._rung_wish, self.desk.draft.state
        if wish is None or state is None:
            return
        at = next(at for at, key in enumerate(state.keys) if key.key == NEW_RUNG)
        self._on_rungs = False
        self.query_one("#keys-list", Lines).highlighted = at
        time, must, around = wish
        begun = ladder_views.wish_typed(time, must, around) if must or around else f"{time} = "
        self._begin(state.keys[at], begun)

    @on(Input.Submitted, "#value")
    def action_take(self) -> None:
        """Send the value that was typed; the input stays until it is taken."""
        if self._editing:
            self._sent = self.desk.draft.wish(Edit(key=self._editing.key, value=self.query_one("#value", Input).value))

    def action_drop(self) -> None:
        """Leave the key as it was."""
        if self._editing:
            self.desk.draft.forget()
            self._close()
            self.draw()

    def action_choice(self, by: int) -> None:
        """Take the choice before, or the next one."""
        key = self._key
        if key and key.choices and self._editing is None:
            self.desk.draft.wish(Edit(key=key.key, value=ladder_views.next_choice(key, by)))

    def action_take_out(self) -> None:
        """Take the marked key, or filter, out of the plan."""
        key = self._key
        if key and key.value and key.key not in (NEW_FILTER, NEW_RUNG):
            self.desk.draft.wish(Edit(key=key.key, value=""))

    def action_undo(self) -> None:
        """Take the last edit back."""
        self.desk.draft.wish(Undo())

    def action_save(self) -> None:
        """Save the plan's file."""
        self.desk.draft.wish(Save())

    def _answered(self) -> None:
        """Close the input once what was typed was taken."""
        known = self.desk.draft.known
        if self._sent and known.answered >= self._sent:
            self._sent = 0
            if not known.refused:
                self._close()

    def _close(self) -> None:
        self._editing, self._sent = None, 0
        self.query_one("#value").display = False
        self._focus()
