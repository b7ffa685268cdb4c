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


#: Live pictures whose sharpness is kept to look at.
_TRACE = 90


@dataclass(frozen=True, kw_only=True)
class Focus:
    """How sharp the live pictures of one part were: the last ones, oldest first, and the best so far; None: none."""

    trace: tuple[float, ...] = ()
    best: float | None = None

    @property
    def share(self) -> float | None:
        """How sharp the last one is, as a share of the best; None: none was bright enough to tell."""
        return self.trace[-1] / self.best if self.trace and self.best else None

    def then(self, sharpness: float | None) -> Focus:
        """Return it with one picture more."""
        if sharpness is None:
            return self
        return Focus(trace=(*self.trace, sharpness)[-_TRACE:], best=max(self.best or 0.0, sharpness))


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
    focus
        How sharp the live pictures of the part that is shown were.
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
    focus: Focus = Focus()
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
            return _with_frame(known, news)
        case PictureShown():
            return _with_live(known, news)
        case Doing():
            return replace(known, doing=news.what)
        case WishAnswer():
            return replace(known, said=news.sentence, refused=not news.ok, answered=max(known.answered, news.to))
    return known


def _with_frame(known: Known, frame: DraftFrame) -> Known:
    """Return what is known with another frame, which ends live view; or with the last one read anew."""
    if known.frames and known.frames[-1].picture == frame.picture:
        return replace(known, frames=(*known.frames[:-1], frame))
    return replace(known, frames=(*known.frames, frame)[-_FRAMES:], live=None)


def _with_live(known: Known, live: PictureShown) -> Known:
    """Return what is known with another live picture; sharpness is compared within one part, magnified as much."""
    same = known.live is not None and (known.live.at, known.live.times) == (live.at, live.times)
    focus = known.focus if same else Focus()
    return replace(known, live=live if live.picture else None, focus=focus.then(live.sharpness))
