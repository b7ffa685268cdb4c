"""A session out of the report of a trial, again: the body answers as it did then, and the same is done with it.

``python -m tests.usb.replay REPORT.json`` tries the recorded body anew on the mocked bus and prints what came otherwise
than the report says. So a body that somebody tried far away can be worked here, as often as we like.
"""

from __future__ import annotations

import io
import json
import sys
import tempfile
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import zip_longest
from pathlib import Path
from typing import Any

from PIL import Image
from PIL.TiffImagePlugin import IFDRational

from tests.usb.bus import Named
from tests.usb.recorded import Answer, RecordedCamera
from tests.usb.rig import Rig, on_usb, why_not_here
from tether.body.responder.codes import Op, Response
from tether.body.responder.packets import Request
from tether.capture.trial_file import PICTURES

#: Operations that ask what is new; and besides whether the body is ready, or to stay on: how often is a matter of time.
NEWS = frozenset((Op.EOS_GET_EVENT, Op.NIKON_GET_EVENT, 0x941C))
POLLS = NEWS | {0x90C8, 0x911D}
#: Operations that change nothing; besides those that hand over pictures.
READS = frozenset((*range(0x1001, 0x1009), 0x1014, 0x1015, 0x9101, 0x9102, 0x9127, 0x90C2)) | POLLS
#: An operation that was recorded so far ahead is not what is asked now, but something later; unless it sets something.
_AHEAD = 40
_EXPOSURE_TIME, _EXIF = 0x829A, 0x8769
#: The longest bulb exposure of a trial that is not the quick one [s].
_LONG_S = 60.0
#: What a trial on the bus may take [s].
_WITHIN_S = 500.0
#: How far two readings of a frame's time may lie apart, as a share.
_SAME = 0.01


@dataclass(frozen=True, kw_only=True)
class Step:
    """One operation as it was recorded, and what the body told unasked before the next.

    `answer` is None where it was not recorded.
    """

    code: int
    parameters: tuple[int, ...]
    sent: bytes
    answer: Answer | None
    events: tuple[tuple[int, tuple[int, ...]], ...] = ()

    @property
    def is_poll(self) -> bool:
        return self.code in POLLS


def steps_of(exchange: Iterable[Mapping[str, Any]]) -> Iterator[Step]:
    """Give the operations of a report's exchange, in order."""
    waiting: Step | None = None
    last: dict[str, str] = {}
    for one in exchange:
        if "event" in one and waiting:
            events = (*waiting.events, (int(one["event"], 16), tuple(one["with"])))
            waiting = Step(**(vars(waiting) | {"events": events}))
        elif "asked" in one:
            if waiting:
                yield waiting
            asked = f"{one['asked']} {one['with']}"
            whole = {**one, "got": last[asked]} if "got_as_before" in one else one
            last[asked] = whole.get("got", "")
            waiting = _step(whole)
    if waiting:
        yield waiting


def _step(one: Mapping[str, Any]) -> Step:
    data = bytes.fromhex(one["got"]) if "got" in one else bytes(one["got_bytes"]) if "got_bytes" in one else None
    answered = one.get("answered")
    return Step(
        code=int(one["asked"], 16),
        parameters=tuple(one["with"]),
        sent=bytes.fromhex(one.get("sent", "")),
        answer=Answer(data, int(answered, 16), tuple(one["returned"])) if answered else None,
    )


class Script:
    """What is answered to what is asked, by the order in which it was recorded.

    What is asked more often than then is answered as at the last time; what a body is polled for and had to tell while
    the recording was polled more often is told at the next poll.
    """

    def __init__(self, steps: Iterable[Step]) -> None:
        self._steps = tuple(steps)
        self._at = 0
        self._waiting: list[Answer] = []

    def begin(self) -> None:
        """Begin anew, with a session."""
        self._at = 0
        self._waiting.clear()

    def answer(self, code: int, parameters: tuple[int, ...], sent: bytes) -> tuple[Answer | None, Step | None]:
        """Return the answer, None where nothing like it was recorded; and the step that was come to, if one was."""
        asked = code, parameters, sent
        place = self._ahead(asked)
        if code in POLLS:
            return self._polled(asked, place)
        if place is None:
            return self._last(asked), None
        self._waiting += self._missed(place)
        self._at = place + 1
        step = self._steps[place]
        return step.answer or self._last(asked), step

    def _missed(self, place: int) -> Iterator[Answer]:
        """Give what polls had to tell that are passed over."""
        for one in self._steps[self._at : place]:
            if one.code in NEWS and one.answer and one.answer != _least(one.code, self._steps):
                yield one.answer

    def _polled(self, asked: tuple[Any, ...], place: int | None) -> tuple[Answer | None, Step | None]:
        if asked[0] in NEWS and self._waiting:
            return self._waiting.pop(0), None
        if place is None:
            return _least(asked[0], self._steps), None
        self._at = place + 1
        return self._steps[place].answer, self._steps[place]

    def _ahead(self, asked: tuple[Any, ...]) -> int | None:
        """Return where it stands next; for a poll before anything else is asked, for a question not too far ahead."""
        passed = 0
        for place in range(self._at, len(self._steps)):
            step = self._steps[place]
            if (step.code, step.parameters, step.sent) == asked:
                return place
            passed += not step.is_poll
            if (passed and asked[0] in POLLS) or (passed > _AHEAD and asked[0] in READS):
                return None
        return None

    def _last(self, asked: tuple[Any, ...]) -> Answer | None:
        """Return how it was answered last, or else for the first time later."""
        before, after = self._steps[: self._at][::-1], self._steps[self._at :]
        same = ((one.code, one.parameters, one.sent) == asked and one.answer for one in (*before, *after))
        return next((one for one in same if one), None)


def _least(code: int, steps: Iterable[Step]) -> Answer | None:
    """Return the shortest answer to a poll: that there is nothing; of those that are the same length, the last."""
    every = [one.answer for one in steps if one.code == code and one.answer]
    return min(reversed(every), key=lambda one: (one.code != Response.OK, len(one.data or b"")), default=None)


class ReplayedCamera(RecordedCamera):
    """A body that answers as the report of a trial has it; its pictures are made up, as long as they were."""

    def __init__(self, report: Mapping[str, Any]) -> None:
        super().__init__({})
        self._script = Script(steps_of(report["exchange"]))
        self._pictures = pictures_of(report)
        self._files: dict[int, bytes] = {}

    def _answer(self, request: Request) -> Answer:
        if request.code == Op.OPEN_SESSION:
            self._script.begin()
            return Answer(None, int(Response.OK), ())
        if request.code in PICTURES and (part := self._part_of(request)) is not None:
            return Answer(part, int(Response.OK), (len(part),) if len(request.parameters) > 1 else ())
        answer, step = self._script.answer(request.code, request.parameters, request.data)
        if answer is None:
            self.unknown.append((request.code, request.parameters))
            return Answer(None, int(Response.OPERATION_NOT_SUPPORTED), ())
        for code, parameters in step.events if step else ():
            self.tell(code, parameters)
        return answer

    def tell(self, code: int, parameters: tuple[int, ...]) -> None:
        """Tell something unasked."""
        if self._pipes:
            self._pipes.event(code, parameters)

    def _part_of(self, request: Request) -> bytes | None:
        """Return a file, or a part of it; each new handle is the next file that came then."""
        handle, *where = request.parameters
        if handle not in self._files:
            if not self._pictures:
                return None
            self._files[handle] = self._pictures.pop(0)
        whole = self._files[handle]
        match where:
            case (offset, size):
                return whole[offset : offset + size]
            case (low, high, size, *_):
                offset = low | high << 32
                return whole[offset : offset + size]
        return whole


def pictures_of(report: Mapping[str, Any]) -> list[bytes]:
    """Return a picture for every file that came: as long as it was, with the exposure time that was read from it."""
    sizes = [one["file_bytes"] for one in report["exchange"] if "file_bytes" in one]
    times = [frame["exif_s"] for frame in report["trial"]["frames"] for _ in range(frame["files"])]
    times += [None] * (len(sizes) - len(times))
    return [picture(size, time_s) for size, time_s in zip(sizes, times, strict=False)]


def picture(size: int, time_s: float | None) -> bytes:
    """Return a small picture with an exposure time [s] in its Exif, and zeros behind it up to a size."""
    exif, out = Image.Exif(), io.BytesIO()
    if time_s is not None:
        exif.get_ifd(_EXIF)[_EXPOSURE_TIME] = IFDRational(Fraction(time_s).limit_denominator(100_000))
    Image.new("RGB", (8, 8)).save(out, "JPEG", exif=exif)
    return out.getvalue().ljust(size, b"\0")[: max(size, 0)]


# The same again


def tried_again(rig: Rig, report: Mapping[str, Any], plan: Path | None = None) -> dict[str, Any]:
    """Try a recorded body on the bus as it was tried then, and return the report of that."""
    usb = report["usb"]
    named = Named(vendor=int(usb["vendor"], 16), product=int(usb["product"], 16), maker="", name="")
    camera = ReplayedCamera(report)
    camera.plug(rig.bus, named)
    held = [frame["asked_s"] for frame in report["trial"]["frames"] if frame["way"] == "held"]
    words = ("--quick",) if _LONG_S not in held else ()
    needs = ("--needs", plan) if plan else ()
    home = rig.folder / "home"
    variables = {name: str(home) for name in ("HOME", "XDG_CONFIG_HOME", "XDG_STATE_HOME", "XDG_DATA_HOME")}
    again = home / "again.json"
    (home / ".gphoto").mkdir(parents=True)
    kept = "".join(f"ptp2={name}={value}\n" for name, value in report["stored"].items())
    (home / ".gphoto" / "settings").write_text(kept)
    said = rig.tether(
        "body", "try", "--yes", *words, *needs, "--report", again, variables=variables, within_s=_WITHIN_S
    )
    assert again.exists(), f"it came to no report:\n{said.words}\nNot in the recording: {camera.unknown}"
    return json.loads(again.read_text())  # type: ignore[no-any-return]


def differences(then: Mapping[str, Any], now: Mapping[str, Any]) -> list[str]:
    """Return what came otherwise, in sentences; times that things took are let alone."""
    return [
        *_unlike("what it calls itself", *(_named(one["trial"]) for one in (then, now))),
        *_unlike("what it offers", *(one["trial"]["offers"] for one in (then, now))),
        *_unlike("how it stands", *(_checks(one["trial"]) for one in (then, now))),
        *_unlike("its entries", *(_entries(one) for one in (then, now))),
        *_unlike(
            "what was set", *([(s["asked"], s["read"], s["said"]) for s in one["settings"]] for one in (then, now))
        ),
        *_unlike("the frames", *([_frame(f) for f in one["trial"]["frames"]] for one in (then, now))),
        *_times(then, now),
        *_unlike("what it was told to do", *(list(_commands(one)) for one in (then, now))),
    ]


def _unlike(what: str, then: Any, now: Any) -> Iterator[str]:
    if then == now:
        return
    pairs = zip_longest(then, now) if isinstance(then, list) else ()
    first = next(((one, other) for one, other in pairs if one != other), (then, now))
    yield f"{what}: then {first[0]}; now {first[1]}"


def _named(trial: Mapping[str, Any]) -> list[Any]:
    return [trial[key] for key in ("model", "firmware", "lens", "simulated")]


def _checks(trial: Mapping[str, Any]) -> list[Any]:
    """Return how it stood, without its clock, which is masked."""
    return [(one["what"], one["verdict"]) for one in trial["checks"] if one["what"] != "camera's clock"]


def _entries(report: Mapping[str, Any]) -> list[Any]:
    return [(one["name"], one["value"], one["choices"], one["writable"]) for one in report["entries"]]


def _frame(frame: Mapping[str, Any]) -> list[Any]:
    return [frame[key] for key in ("way", "asked_s", "files", "size_bytes", "problem")]


def _times(then: Mapping[str, Any], now: Mapping[str, Any]) -> Iterator[str]:
    for one, other in zip(then["trial"]["frames"], now["trial"]["frames"], strict=False):
        before, after = one["exif_s"], other["exif_s"]
        if (before is None) != (after is None) or (before and abs(after / before - 1) > _SAME):
            yield f"Exif of the frame of {one['asked_s']} s: then {before}; now {after}"


def _commands(report: Mapping[str, Any]) -> Iterator[tuple[Any, ...]]:
    """Give every operation that changes something, with what was sent, in order."""
    for one in report["exchange"]:
        if "asked" in one and int(one["asked"], 16) not in READS | PICTURES:
            yield one["asked"], tuple(one["with"]), one.get("sent", "")


def main(words: list[str]) -> int:
    """Replay a report and print what came otherwise; a plan beside it where the trial was one of a plan's needs."""
    if why_not := why_not_here():
        sys.stdout.write(f"No camera on USB can be mocked here: {why_not}." + "\n")
        return 2
    report = json.loads(Path(words[0]).read_text())
    if not report["exchange"] or not report["usb"]:
        sys.stdout.write(
            f"{words[0]} can't be replayed: {report['left_out'] or 'it does not say which body it was on USB'}" + "\n"
        )
        return 2
    plan = Path(words[1]).absolute() if len(words) > 1 else None
    with tempfile.TemporaryDirectory(prefix="tether-") as folder, on_usb(Path(folder)) as rig:
        found = differences(report, tried_again(rig, report, plan))
    sys.stdout.write("\n".join(found or ["The same as then."]) + "\n")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
