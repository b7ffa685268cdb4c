"""A draft: the text of a plan, what was edited, and what follows from it. Nothing here touches a camera."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

import tomlkit
from tomlkit.exceptions import TOMLKitError

from tether.editor.messages import Drafted, DraftRegion, RegionKind
from tether.editor.plan_keys import edited, keys_of
from tether.errors import PlanError, TetherError
from tether.files.safe import safe_write
from tether.outing.camera import as_simulated
from tether.outing.prepare import Prepared, prepare
from tether.plan.as_json import planned_of
from tether.plan.file import Plan, plan_from_text, read_plan

Box = tuple[float, float, float, float]

#: How many other ways are given for each rung.
OTHERS = 2


@dataclass(frozen=True, kw_only=True)
class Draft:
    """A plan that is worked on.

    Attributes
    ----------
    path
        Its file.
    text, on_disk
        What it is to say, and what its file says.
    before
        What it said before each edit, and what was edited, oldest first.
    simulated
        Whether a plan for a camera is rehearsed.
    left_turns
        The quarter turns left by which pictures are turned upright.
    """

    path: Path
    text: str
    on_disk: str
    before: tuple[tuple[str, str], ...] = ()
    simulated: bool = False
    left_turns: int = 0

    @classmethod
    def opened(cls, path: Path, text: str | None, *, simulated: bool) -> Draft:
        """Open a plan's file; `text` is what it is to say, where that is not saved. Raises PlanError for mistakes."""
        on_disk = read_plan(path).text
        return cls(path=path, text=on_disk if text is None else text, on_disk=on_disk, simulated=simulated)

    def plan(self) -> Plan:
        """Return the plan. Raises PlanError with a sentence for every mistake."""
        return plan_from_text(self.text, self.path)

    def ready(self, others: int = 0) -> Prepared:
        """Return the plan made ready, with so many other ways for each rung. Raises PlanError."""
        ready = prepare(self.plan(), others=others)
        return as_simulated(ready) if self.simulated else ready

    def edited(self, key: str, value: str) -> Draft:
        """Return the draft with another value for a key. Raises PlanError where the plan would have a mistake."""
        return self.changed(key, lambda text: edited(text, key, value))

    def changed(self, what: str, change: Callable[[str], str]) -> Draft:
        """Return the draft with its text changed, `what` of it. Raises PlanError where the plan would have a mistake.

        A plan that had mistakes already may keep them: it is mended one by one.
        """
        text = change(self.text)
        after = replace(self, text=text, before=(*self.before, (self.text, what)))
        if not self._mistakes() and (mistakes := after._mistakes()):
            raise PlanError(*mistakes)
        return self if text == self.text else after

    def undone(self) -> Draft:
        """Return the draft as it was before the last edit. Raises PlanError where there was none."""
        if not self.before:
            raise PlanError("There is no edit to undo.")
        return replace(self, text=self.before[-1][0], before=self.before[:-1])

    def saved(self) -> Draft:
        """Write the plan's file, unless somebody else has changed it meanwhile; return the draft as saved.

        Raises
        ------
        PlanError, SupplyError, LostError
            It was changed, has mistakes, or can't be written.
        """
        self.plan()
        try:
            there = self.path.read_bytes().decode("utf-8-sig")
        except (OSError, UnicodeDecodeError) as error:
            raise PlanError(f"{self.path}: this file can't be read any more, so it is not written: {error}") from error
        if plan_text(there) != plan_text(self.on_disk):
            raise PlanError(f"{self.path}: this file was changed meanwhile and is left as it is; open the plan anew.")
        safe_write(self.path, self.text.encode())
        return replace(self, on_disk=self.text)

    def with_region(self, what: RegionKind, box: Box | None) -> Draft:
        """Return the draft with one rectangle of a kind, as shares of the upright picture; None: with none."""
        return self.changed(
            f"the rectangle of {what}", lambda text: _with_region(text, what, box and turned(box, -self.left_turns))
        )

    def turned(self, left_turns: int) -> Draft:
        """Return the draft with its pictures turned otherwise."""
        return replace(self, left_turns=left_turns)

    def regions(self) -> tuple[DraftRegion, ...]:
        """Return the rectangles that the plan gives, as shares of the upright picture. Raises PlanError."""
        return tuple(
            DraftRegion(what=one.kind, box=turned((one.left, one.top, one.right, one.bottom), self.left_turns))
            for one in self.plan().region
        )

    def told(self) -> Drafted:
        """Return the draft as a face is told of it."""
        ready = None if isinstance(self._worked_out, TetherError) else self._worked_out
        return Drafted(
            path=str(self.path),
            text=self.text,
            saved=self.text == self.on_disk,
            keys=keys_of(self.text),
            regions=self.regions() if ready else (),
            ladder=planned_of(ready.ladder) if ready else None,
            mistakes=self._mistakes(),
            simulated=ready.abilities.simulated if ready else self.simulated,
            edits=len(self.before),
        )

    def _mistakes(self) -> tuple[str, ...]:
        ready = self._worked_out
        return ready.sentences if isinstance(ready, TetherError) else ()

    @cached_property
    def _worked_out(self) -> Prepared | TetherError:
        """The plan made ready, once for each text: planning is what an edit waits for."""
        try:
            return self.ready(OTHERS)
        except TetherError as error:
            return error


def plan_text(text: str) -> str:
    """Return a plan's text with plain line ends, to compare by."""
    return text.replace("\r\n", "\n")


def turned(box: Box, left_turns: int) -> Box:
    """Return where a rectangle is once its picture was turned to the left so many times by 90°.

    Rectangles are left, top, right, bottom as shares of the picture.
    """
    for _ in range(left_turns % 4):
        left, top, right, bottom = box
        box = (top, 1 - right, bottom, 1 - left)
    return box


def _with_region(text: str, what: RegionKind, box: Box | None) -> str:
    try:
        document = tomlkit.parse(text)
    except TOMLKitError as error:
        raise PlanError(f"The plan is no longer valid TOML: {error}") from error
    kept = [one for one in document.get("region", []) if one.get("kind") != what]
    document.pop("region", None)
    tables = tomlkit.aot()
    for one in kept:
        tables.append(one)
    if box is not None:
        table = tomlkit.table()
        table["kind"] = what
        for name, share in zip(("left", "top", "right", "bottom"), box, strict=True):
            table[name] = round(share, 3)
        tables.append(table)
    if tables:
        document["region"] = tables
    return tomlkit.dumps(document)
