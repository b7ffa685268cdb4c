"""The report of a trial as a file for others: what was found, and what camera and camera library said to one another.

It is JSON, valid by ``trial-report.schema.json``, a line for each thing said, so that it can be read by eye too. All
in it is masked (:mod:`tether.capture.trial_masks`); pictures are not in it at all.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator
from dataclasses import asdict, replace
from functools import cache
from typing import Any

from tether import __version__
from tether.body.driver.exchange import DATA_LEVEL, Line, Operation, Said, exchange_of
from tether.body.driver.known import KnownBody
from tether.body.driver.recording import Recorded
from tether.capture.trial_masks import DEVICE_INFO, Masks, masks_of
from tether.capture.trial_report import About, trial_json
from tether.capture.trial_result import Trial

REPORT_SCHEMA = "tether-trial-report/1"
#: What returns data of an operation, masked.
Mask = Callable[[int, bytes], bytes]
#: Operations that hand over pictures, whole or in parts, small or live; of a picture only its length is kept.
PICTURES = frozenset((0x1009, 0x100A, 0x101B, 0x9107, 0x9153, 0x9172, 0x9203, 0x90C4, 0x9428, 0x9431, 0x9434))
#: An answer that is longer is left out too [bytes], and so many lines of the log at most are kept.
_LONGEST, _MOST_LINES = 1 << 16, 4000
_STEPS = 2
#: So many digits of an answer are not written again where it is the same as the one before to the same question.
_WORTH_LEAVING_OUT = 64
#: Parts of the library that tell at length what stands elsewhere in the report, or nothing of the body.
_TALKATIVE = (
    "gp_", "gp-", "_", "libusb", "foreach", "unlocked_", "print_debug", "load_settings", "verify_settings",
    "camera_wait_for_event", "camera_lookup_by_property",
)  # fmt: skip
_SAID_ELSEWHERE = ("option[", "PTP_OC 0x", "Reading PTP_OC")


def report_file(trial: Trial, about: About, recorded: Recorded, known: KnownBody | None) -> str:
    """Return the whole report, masked.

    Parameters
    ----------
    trial, about
        What was found, and with what.
    recorded
        What was recorded; nothing where it was not.
    known
        Which body it is; None: not known.
    """
    said = tuple(exchange_of(recorded.lines))
    masks = _masks(trial, recorded, known, said)
    masked = cache(masks.data)  # most answers come many times over
    exchange = tuple(_masked(masked, one) for one in said)
    log = tuple(_log(masks, recorded.lines))
    report = {
        "schema": REPORT_SCHEMA,
        "tether": __version__,
        "left_out": None,
        "usb": {"vendor": known.vendor, "product": known.product} if known and known.vendor else None,
        "trial": _texts(masks, _trial(trial, about)),
        "settings": [_texts(masks, asdict(one)) for one in trial.settings.each],
        "entries": [asdict(masks.entry(one)) for one in recorded.entries],
        "stored": {one.name: masks.text(one.value) for one in recorded.stored},
        "log": log,
        "exchange": _in_order(recorded, exchange),
    }
    kept = [data for one in exchange if isinstance(one, Operation) for data in (one.sent, one.got) if data]
    plain = json.dumps({key: value for key, value in report.items() if key != "exchange"}, ensure_ascii=False)
    if masks.left_in(plain, kept):
        why = "What was said could not be masked as a whole, so log and exchange are left out."
        report |= {"log": [], "exchange": [], "left_out": why}
    elif not any(isinstance(one, Operation) and one.response is not None for one in exchange):
        why = "Nothing of the exchange was recorded: that is done for a camera on USB only."
        report |= {"exchange": [], "left_out": why}
    return _written(report)


def _trial(trial: Trial, about: About) -> dict[str, Any]:
    """Return what was found, with the day and not the hour, and without the files on this machine."""
    told = trial_json(trial, replace(about, serial=False), report="", own_file="")
    for key in ("schema", "serial", "begun_utc", "report", "own_file"):
        del told[key]
    return {"day": f"{about.when.astimezone():%Y-%m-%d}", **told}


def _masks(trial: Trial, recorded: Recorded, known: KnownBody | None, said: Iterable[Said]) -> Masks:
    numbers = (trial.identity.serial, *((known.serial, known.usb_serial) if known else ()))
    asked = (one.got for one in said if isinstance(one, Operation) and one.code == DEVICE_INFO and one.got)
    return masks_of(recorded.entries, numbers, next(asked, None))


def _texts(masks: Masks, value: Any) -> Any:
    """Return plain data with every text in it masked."""
    if isinstance(value, str):
        return masks.text(value)
    if isinstance(value, dict):
        return {key: _texts(masks, one) for key, one in value.items()}
    return [_texts(masks, one) for one in value] if isinstance(value, list | tuple) else value


# What was said


def _masked(masked: Mask, said: Said) -> Said:
    if not isinstance(said, Operation):
        return said
    sent = None if said.sent is None else masked(said.code, said.sent)
    return replace(said, sent=sent, got=None if said.got is None else _got(masked, said.code, said.got))


def _got(masked: Mask, code: int, got: bytes) -> bytes:
    """Return what came, masked; a picture, or what is too long, as zeros."""
    is_picture = code in PICTURES or len(got) > _LONGEST or b"\xff\xd8\xff" in got
    return bytes(len(got)) if is_picture else masked(code, got)


def _log(masks: Masks, lines: Iterable[Line]) -> Iterator[dict[str, Any]]:
    kept = [line for line in lines if _is_telling(line)]
    for line in kept[:_MOST_LINES]:
        text = masks.line(line.text.strip())
        yield {"at_s": round(line.at_s, 4), "level": line.level, "from": line.source, "text": text}


def _is_telling(line: Line) -> bool:
    if line.level >= DATA_LEVEL or not line.text.strip():
        return False
    is_long = line.source.startswith(_TALKATIVE) or any(one in line.text for one in _SAID_ELSEWHERE)
    return line.level < _STEPS or not is_long


def _in_order(recorded: Recorded, exchange: Iterable[Said]) -> list[dict[str, Any]]:
    """Return what was said and which files came, as plain data in the order in which it was."""
    files = [{"at_s": round(one.at_s, 4), "file_bytes": one.size} for one in recorded.files]
    return sorted((*files, *_shortened(map(_plain, exchange))), key=lambda one: one["at_s"])


def _shortened(told: Iterable[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    """Give what was told; long answers that are the same again are left out: some bodies tell all of them each time."""
    last: dict[str, str] = {}
    for one in told:
        asked, got = f"{one.get('asked')} {one['with']}", one.get("got", "")
        if len(got) >= _WORTH_LEAVING_OUT and last.get(asked) == got:
            yield {key: value for key, value in one.items() if key != "got"} | {"got_as_before": True}
        else:
            yield one
        last[asked] = got


def _plain(said: Said) -> dict[str, Any]:
    """Return what was said as plain data: numbers of the protocol in hexadecimal, as its documents have them."""
    if not isinstance(said, Operation):
        return {"at_s": round(said.at_s, 4), "event": f"0x{said.code:04x}", "with": list(said.parameters)}
    told: dict[str, Any] = {"at_s": round(said.at_s, 4), "asked": f"0x{said.code:04x}", "with": list(said.parameters)}
    if said.sent is not None:
        told["sent"] = said.sent.hex()
    if said.got is not None:
        is_left_out = len(said.got) > 0 and not any(said.got)
        told |= {"got_bytes": len(said.got)} if is_left_out else {"got": said.got.hex()}
    if said.response is not None:
        told |= {"answered": f"0x{said.response:04x}", "returned": list(said.returned)}
        told["took_s"] = round(said.took_s or 0.0, 4)
    return told


def _written(report: dict[str, Any]) -> str:
    """Return a report as JSON, a line for each thing in its lists."""
    parts = []
    for key, value in report.items():
        if isinstance(value, list | tuple):
            rows = ",\n".join(f"  {json.dumps(one, ensure_ascii=False)}" for one in value)
            parts.append(f'"{key}": [\n{rows}\n]' if rows else f'"{key}": []')
        else:
            parts.append(f'"{key}": {json.dumps(value, ensure_ascii=False, indent=1)}')
    return "{\n" + ",\n".join(parts) + "\n}\n"
