"""What a face knows of a draft, folded from what its process tells."""

from __future__ import annotations

from dataclasses import dataclass, replace

from tether.editor.messages import (
    Checked,
    Doing,
    Drafted,
    DraftFrame,
    EditorEvent,
    PictureShown,
    WishAnswer,
)

#: Frames for the base that are kept to look at.
_FRAMES = 12


@dataclass(frozen=True, kw_only=True)
class Known:
    """What is known of the draft.

    Attributes
    ----------
    state, checked, checked_text
        The plan and the checks as told last, None before; and what the plan said then.
    frames
        The frames taken for the base, oldest first.
    live
        The live picture; None where there is none.
    doing
        What is going on; empty: nothing.
    said, refused
        The last sentence that was answered, and whether it was a refusal.
    answered
        The number of the last wish that was answered.
    """

    state: Drafted | None = None
    checked: Checked | None = None
    checked_text: str = ""
    frames: tuple[DraftFrame, ...] = ()
    live: PictureShown | None = None
    doing: str = ""
    said: str = ""
    refused: bool = False
    answered: int = 0


def after(known: Known, news: EditorEvent) -> Known:
    """Return what is known once something more was told."""
    match news:
        case Drafted():
            return replace(known, state=news)
        case Checked():
            return replace(known, checked=news, checked_text=known.state.text if known.state else "")
        case DraftFrame():
            return replace(known, frames=(*known.frames, news)[-_FRAMES:], live=None)
        case PictureShown():
            return replace(known, live=news if news.picture else None)
        case Doing():
            return replace(known, doing=news.what)
        case WishAnswer():
            return replace(known, said=news.sentence, refused=not news.ok, answered=max(known.answered, news.to))
    return known
