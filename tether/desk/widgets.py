"""The pieces that the desk's screens are made of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

from textual import events
from textual.app import RenderResult
from textual.content import Content
from textual.reactive import reactive
from textual.style import Style
from textual.widget import Widget
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from tether.control.commands import WORDS, Verb
from tether.desk.letters import drawn
from tether.report.harmless import plain

T = TypeVar("T")

#: How keys are called where their own sign would not be understood.
_SHOWN = {" ": "space", "space": "space", "question_mark": "?", "escape": "esc", "ctrl+q": "^q", "ctrl+p": "^p"}
_GAP = "  "
#: On more lines than these keys are put in short.
_FEW_LINES = 2


class TextLine(Static):
    """A text that is shown as it is, without markup; nothing happens where it has not changed."""

    def __init__(self, text: str = "", *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002
        super().__init__(plain(text), markup=False, id=id, classes=classes)
        self.text = text

    def say(self, text: str) -> None:
        """Show a text; an empty one takes no room."""
        if text != self.text:
            self.text = text
            self.update(plain(text))
        self.display = bool(text)


class Lines(OptionList):
    """Lines of text of which one is marked; nothing happens where none has changed."""

    def __init__(self, *, id: str) -> None:  # noqa: A002
        super().__init__(id=id, markup=False)

    def say(self, lines: Sequence[str]) -> None:
        """Show lines; the mark stays where it was, as far as there are so many."""
        lines = [plain(line) for line in lines]
        if lines != [str(option.prompt) for option in self.options]:
            at = self.highlighted
            self.set_options([Option(line) for line in lines])
            self.highlighted = min(at or 0, len(lines) - 1) if lines else None

    def marked(self, of: Sequence[T]) -> T | None:
        """Return which of the things that the lines tell of is marked; None: none is."""
        at = self.highlighted
        return of[at] if at is not None and at < len(of) else None


class Typed(Input):
    """A line to type in. Keys that edit act at once: the library's own act after letters that came together with them.

    Over a slow connection keys come together, and a letter typed after a backspace was the one deleted.
    """

    async def _on_key(self, event: events.Key) -> None:
        act = {
            "backspace": self.action_delete_left,
            "delete": self.action_delete_right,
            "left": self.action_cursor_left,
            "right": self.action_cursor_right,
            "home": self.action_home,
            "end": self.action_end,
        }.get(event.key)
        if act is None:
            await super()._on_key(event)
            return
        event.stop()
        event.prevent_default()
        act()


class Head(Widget):
    """The first line of every screen: what this is, the outing's title, and whether it is simulated."""

    _what = reactive("")
    _mark = reactive("")

    def say(self, what: str, mark: str) -> None:
        """Show what the screen is about, and the mark that must not be overlooked."""
        self._what, self._mark = plain(what), plain(mark)

    def render(self) -> RenderResult:
        """Return the line: the mark and the screen's name keep their room, the title is cut."""
        room = max(self.size.width - len(self._mark) - 4, 0)
        what = self._what
        if len(what) > room:
            title, bar, called = what.partition("  |  ")
            what = f"{title[: max(room - len(bar + called) - 1, 0)]}…{bar}{called}"[:room]
        return Content(f" {what:<{room}}  {self._mark} ")


class Large(Widget):
    """A word or a countdown as large as the room allows; in plain letters where there is too little."""

    text = reactive("")
    _short = reactive("")

    def __init__(self, text: str = "", *, id: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id)
        self.text = text

    def say(self, text: str, short: str = "") -> None:
        """Show a text; `short` where that can't be drawn."""
        self.text, self._short = plain(text), short

    def render(self) -> RenderResult:
        """Return the text, drawn."""
        lines = drawn(self.text, *self.size) or drawn(self._short, *self.size)
        return Content("\n".join(lines) if lines else self.text)


@dataclass(frozen=True, kw_only=True)
class Key:
    """A key, what it is called on the screen, and the action that it and a click stand for.

    `short` is what stands for it and those like it where there is too little room for all.
    """

    key: str
    label: str
    action: str
    short: Key | None = None


def steering(*verbs: Verb, short: Key | None = None) -> list[Key]:
    """Return the keys of some verbs."""
    keys = {word.verb: word.key for word in WORDS}
    return [Key(key=keys[verb], label=verb, action=f"app.say('{verb}')", short=short) for verb in verbs]


class Keys(Static):
    """What can be done here: keys with their meaning, which can be clicked; in short where two lines do not do."""

    def __init__(self, *keys: Key) -> None:
        super().__init__()
        self._offered = keys

    def offer(self, keys: Sequence[Key]) -> None:
        """Show keys."""
        if tuple(keys) != self._offered:
            self._offered = tuple(keys)
            self._lay()

    def on_mount(self) -> None:
        self._lay()

    def on_resize(self) -> None:
        self._lay()

    def _lay(self) -> None:
        """Set the keys beside each other; what stands last is put in short first."""
        room = self.app.size.width - 2
        keys, shorts = self._offered, dict.fromkeys(one.short for one in reversed(self._offered) if one.short)
        lines = _lines(keys, room)
        for short in shorts:
            if len(lines) <= _FEW_LINES:
                break
            keys = tuple(dict.fromkeys(short if one.short == short else one for one in keys))
            lines = _lines(keys, room)
        self.update(Content("\n").join(Content(_GAP).join(line) for line in lines))


def _lines(keys: Sequence[Key], room: int) -> list[list[Content]]:
    """Set keys on lines; a key and its meaning stay together."""
    lines: list[list[Content]] = [[]]
    for key in map(_content, keys):
        if lines[-1] and sum(len(one) + len(_GAP) for one in lines[-1]) + len(key) > room:
            lines.append([])
        lines[-1].append(key)
    return lines


def _content(key: Key) -> Content:
    text = Content.assemble((_SHOWN.get(key.key, key.key), "bold reverse"), f" {key.label}")
    return text.stylize(Style.from_meta({"@click": key.action}))
