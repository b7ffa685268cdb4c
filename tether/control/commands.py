"""What a person can say to a run, as data: one table of verbs, their keys and their meaning."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

if TYPE_CHECKING:
    from tether.body.protocol import CameraEvent  # a face hears of no camera, and is there sooner without it

Verb = Literal[
    "answer",
    "answer ahead",
    "take back",
    "again",
    "skip",
    "not in the bag",
    "next",
    "pause",
    "go on",
    "brighter",
    "darker",
    "I changed something",
    "quick frame",
    "headlamp",
    "regions right",
    "regions wrong",
    "longer",
    "shorter",
    "close and keep",
    "stop after this frame",
    "stop now and keep",
    "drop everything",
]


@dataclass(frozen=True, kw_only=True)
class Command:
    """One thing said to the run."""

    verb: Verb


#: What a run hears: word of its camera, and of the person.
Item: TypeAlias = "CameraEvent | Command"


@dataclass(frozen=True, kw_only=True)
class Word:
    """A verb as people meet it: the key it stands on and what it does, in a few words."""

    verb: Verb
    key: str
    does: str
    while_open: bool = False


WORDS: tuple[Word, ...] = (
    Word(verb="answer", key=" ", does="the task is done, or take the frame that waits for you"),
    Word(verb="answer ahead", key="y", does="the next task is done already"),
    Word(verb="take back", key="u", does="the last task was not done: it is asked again"),
    Word(verb="again", key="a", does="one more frame of this rung"),
    Word(verb="skip", key="s", does="leave out what is left of this rung"),
    Word(verb="not in the bag", key="m", does="you do not have that filter: a ladder without it is proposed"),
    Word(verb="next", key="n", does="next rung now; an open frame is closed and kept"),
    Word(verb="pause", key="p", does="pause after this frame"),
    Word(verb="go on", key="g", does="go on after a pause"),
    Word(verb="brighter", key="b", does="a third of a stop brighter from the next frame on"),
    Word(verb="darker", key="d", does="a third of a stop darker from the next frame on"),
    Word(
        verb="I changed something", key="i", does="polariser, graduated filter, zoom or tripod: the light is read anew"
    ),
    Word(verb="quick frame", key="t", does="one frame as soon as may be, as bright, with what is fitted"),
    Word(verb="headlamp", key="h", does="your lamp is on: it is always allowed, and the open frame is noted"),
    Word(verb="regions right", key="r", does="water and rock are as the picture shows"),
    Word(verb="regions wrong", key="f", does="they are not: nothing is compared or corrected by them"),
    Word(verb="longer", key="l", does="a third of a stop longer", while_open=True),
    Word(verb="shorter", key="k", does="a third of a stop shorter", while_open=True),
    Word(verb="close and keep", key="c", does="close now and keep the frame", while_open=True),
    Word(verb="stop after this frame", key="q", does="end the run when this frame is copied"),
    Word(verb="stop now and keep", key="w", does="close now, keep the frame, end the run"),
    Word(
        verb="drop everything",
        key="X",
        does="close now and leave at once: frames copied are safe, the others stay on the card",
    ),
)
STOPS: tuple[Verb, ...] = ("stop after this frame", "stop now and keep", "drop everything")
_BY_KEY = {word.key: word.verb for word in WORDS} | {"\r": "answer", "\n": "answer"}
_BY_NAME: dict[str, Verb] = {word.verb.lower(): word.verb for word in WORDS}


def verb_of_key(key: str) -> Verb | None:
    """Return the verb that stands on a key, or None."""
    return _BY_KEY.get(key)


def verb_of_words(text: str) -> Verb | None:
    """Return the verb written out in words, in any case and spacing, or None."""
    return _BY_NAME.get(" ".join(text.lower().split()))
