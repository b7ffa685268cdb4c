"""What of a recorded session may be sent to others: names, serial numbers, times and places are masked in all of it.

A mask has the length of what it covers, so that what is counted in bytes stays what it was and can be read as before.
What is known to be somebody's own (values of entries, numbers that the body tells of itself) is covered wherever it
stands: as text, in the two encodings of the protocol, as a number, in hexadecimal. Besides, every text in the body's
data is covered that is not one of the library's own words: there it is better to cover too much.
"""

from __future__ import annotations

import re
import struct
from collections.abc import Iterable
from dataclasses import dataclass, replace

from tether.body.driver.recording import EntrySeen

#: Operations and codes of the protocol and of one family's extension (ISO 15740; libgphoto2, camlibs/ptp2/ptp.h).
DEVICE_INFO = 0x1001
_EOS_EVENT, _EOS_SET = 0x9116, 0x9110
_EOS_VALUE = 0xC189
#: Properties of that family: owner, serial number, artist, copyright; its clock, as seconds.
_EOS_PERSONAL = (0xD115, 0xD1AF, 0xD1D0, 0xD1D1)
_EOS_CLOCK = (0xD113, 0xD17C)
#: Entries whose text is nobody's own.
_PUBLIC = ("manufacturer", "cameramodel", "deviceversion", "vendorextension", "lensname", "batterylevel")
_PERSONAL = re.compile(
    r"serial|owner|artist|author|copyright|creator|user|comment|nick|gps|ssid|password|guid|uuid|datetime|timezone"
)
#: A number that can't be told from a plain value by itself.
_PLAIN = re.compile(r"[\d.,:%+\-]{0,5}")
#: A text that is covered wherever it stands has so many characters; a shorter one only where it stands by itself.
_LEAST, _ANYWHERE = 4, 5
_DATE = r"(?:19|20)\d\d[-:]?[01]\d[-:]?[0-3]\d[T ]?[0-2]\d:?[0-5]\d:?[0-5]\d"
_LONG_NUMBER = re.compile(rf"{_DATE}|(?<![0-9a-fx])\d{{7,}}(?![0-9a-f])")
_QUOTED = re.compile(r"'([^']*)'")
#: What the log says of one family's properties that are somebody's own, or its clock.
_EOS_SAID = re.compile(rf"(prop (?:{'|'.join(f'{code:04x}' for code in (*_EOS_PERSONAL, *_EOS_CLOCK))}) value == ).*")
_PLACE = re.compile(r"(?<![\w/.])/(?:[\w.+@~-]+/)+[\w.+@~-]*")
_DATE_BYTES = re.compile(_DATE.encode())
_DATE_WIDE = re.compile(rb"(?:[\d:T -]\0){15,19}")
_ASCII_TEXT = re.compile(rb"[\x20-\x7e]{5,}(?=\0|\Z)")
_FILE_NAME = re.compile(r"[A-Z0-9_]{4}(\d{4}\.[A-Z0-9]{3})")
_FOLDER_NAME = re.compile(r"(\d{3})[A-Z0-9_]{5}")
_NAME_THEN_TIME = re.compile(rb"[\w]{8}\.[A-Z0-9]{3}\0+(?=(....))", re.DOTALL)
#: Seconds since 1970 that are a time of our days: from 2001 on, until 2050.
_OUR_DAYS = range(1_000_000_000, 2_524_608_000)


def covered(text: str) -> str:
    """Return a mask as long as a text. What numbers a file or a folder is left, and what kind of file it is."""
    if name := _FILE_NAME.fullmatch(text):
        return f"FILE{name[1]}"
    if folder := _FOLDER_NAME.fullmatch(text):
        return f"{folder[1]}XXXXX"
    return "".join("0" if one.isdecimal() else "x" if one.isalpha() else one for one in text)


@dataclass(frozen=True, kw_only=True)
class Masks:
    """What is covered.

    Attributes
    ----------
    secrets
        What is somebody's own, longest first.
    public
        Texts that are the library's or the maker's words.
    """

    secrets: tuple[str, ...]
    public: frozenset[str]

    # Texts

    def text(self, text: str) -> str:
        """Return a sentence without what is somebody's own: values, times, long numbers, places on this machine."""
        for secret in self.secrets:
            text = _standing(secret).sub(lambda found: covered(found[0]), text)
        text = _PLACE.sub("/…", text)
        return _LONG_NUMBER.sub(lambda found: covered(found[0]), text)

    def line(self, text: str) -> str:
        """Return a line of the library's log, in which every quoted text is covered that is not public too."""
        text = _EOS_SAID.sub(r"\1…", text)
        return self.text(_QUOTED.sub(lambda found: f"'{self._shown(found[1])}'", text))

    def entry(self, entry: EntrySeen) -> EntrySeen:
        """Return an entry whose value is covered where it is somebody's own."""
        said = entry.failed and self.text(entry.failed)
        if not _is_own(entry):
            value = self.text(entry.value) if isinstance(entry.value, str) else entry.value
            return replace(entry, value=value, failed=said)
        return replace(entry, value=covered(entry.value) if isinstance(entry.value, str) else None, failed=said)

    def _shown(self, text: str) -> str:
        return self.text(text) if not text or text in self.public or _PLAIN.fullmatch(text) else covered(text)

    # Data

    def data(self, code: int, data: bytes) -> bytes:
        """Return data of an operation, as long as they are, without what is somebody's own."""
        for secret in self.secrets:
            for pattern in _written(secret):
                data = data.replace(pattern, _cover_of(secret, pattern))
        data = _DATE_BYTES.sub(_zeros, data)
        data = _DATE_WIDE.sub(_zeros, data)
        if code == DEVICE_INFO:
            return _without_serial(data)
        if code in (_EOS_EVENT, _EOS_SET):
            data = _eos(data, whole=code == _EOS_EVENT)
        data = _ASCII_TEXT.sub(lambda found: self._shown(found[0].decode()).encode(), data)
        return _without_times(self._texts(data))

    def _texts(self, data: bytes) -> bytes:
        """Return data in which every text of the protocol (ISO 15740, 5.3.2) is covered that is not public."""
        out, at = bytearray(data), 0
        while at < len(out):
            text = text_at(bytes(out[at : at + 1 + 2 * out[at]]))
            if text is None or len(text) < 3:
                at += 1
                continue
            out[at + 1 : at + 1 + 2 * len(text)] = self._shown(text).encode("utf-16-le")
            at += 3 + 2 * len(text)
        return bytes(out)

    def left_in(self, text: str, data: Iterable[bytes]) -> tuple[str, ...]:
        """Return what is somebody's own and stands in a text or in data all the same."""
        every = b"\xff".join(data)
        return tuple(
            secret
            for secret in self.secrets
            if _standing(secret).search(text) or any(one in every for one in _written(secret))
        )


def masks_of(entries: Iterable[EntrySeen], known: Iterable[str], device_info: bytes | None) -> Masks:
    """Return what is to be covered.

    Parameters
    ----------
    entries
        What the body's entries read.
    known
        What else is known to be somebody's own: serial numbers, the account's name, the machine's.
    device_info
        What the body said of itself by the protocol, whose serial number need not be that of an entry.
    """
    seen = tuple(entries)
    public = {choice for one in seen for choice in one.choices}
    public |= {one.value for one in seen if one.name in _PUBLIC and isinstance(one.value, str)}
    own = {one.value for one in seen if _is_own(one) and isinstance(one.value, str)}
    own |= {*known, *(() if device_info is None else (serial_of(device_info),))}
    # Some bodies write the same number with zeros before it.
    own |= {short for one in own if len(short := one.lstrip("0")) >= 2 * _LEAST - 2}
    # What is no more than a mask already (a number of nothing but zeros) tells nothing.
    secrets = {one.strip() for one in own if covered(one) != one} - public
    return Masks(
        secrets=tuple(sorted((one for one in secrets if len(one) >= _LEAST), key=lambda one: (-len(one), one))),
        public=frozenset(public),
    )


def _is_own(entry: EntrySeen) -> bool:
    """Say whether an entry's value is somebody's own: by its name, or a free text that nothing is known of."""
    if _PERSONAL.search(entry.name):
        return True
    free = isinstance(entry.value, str) and not entry.choices and entry.name not in _PUBLIC
    return free and not _PLAIN.fullmatch(str(entry.value))


def _standing(secret: str) -> re.Pattern[str]:
    """Return what finds a text where it stands: a long one anywhere, a number among no other digits, else as a word."""
    if secret.isdecimal():
        return re.compile(rf"(?<!\d){secret}(?!\d)")
    edge = "" if len(secret) >= _ANYWHERE else r"\b"
    return re.compile(f"{edge}{re.escape(secret)}{edge}")


def _written(secret: str) -> tuple[bytes, ...]:
    """Return every way in which bytes may say a text; the shortest are left out, which others could be by chance."""
    ways = [secret.encode(), secret.encode("utf-16-le"), secret.encode("latin-1", "ignore")]
    if secret.isdecimal() and len(secret) > _LEAST and int(secret) < 1 << 32:
        ways.append(struct.pack("<I", int(secret)))
    if re.fullmatch(r"(?:[0-9a-fA-F]{2}){6,}", secret):
        ways.append(bytes.fromhex(secret))
    return tuple(dict.fromkeys(one for one in ways if len(one) >= _LEAST))


def _cover_of(secret: str, pattern: bytes) -> bytes:
    for encoding in ("utf-8", "utf-16-le", "latin-1"):
        if secret.encode(encoding, "ignore") == pattern:
            return covered(secret).encode(encoding)[: len(pattern)].ljust(len(pattern), b"x")
    return bytes(len(pattern))


def _zeros(found: re.Match[bytes]) -> bytes:
    return re.sub(rb"\d", b"0", found[0])


def text_at(data: bytes) -> str | None:
    """Return the text of the protocol that data begin with and are filled by: a count, UTF-16, a closing zero."""
    if len(data) < 3 or len(data) != 1 + 2 * data[0] or data[-2:] != b"\0\0":
        return None
    try:
        text = data[1:-2].decode("utf-16-le")
    except UnicodeDecodeError:
        return None
    return text if text.isprintable() else None


# What one operation answers, where its layout is known


def _texts_of_device_info(data: bytes) -> tuple[int, int]:
    """Return where the serial number of a DeviceInfo dataset begins and ends (ISO 15740, 5.5.1). Raises IndexError."""

    def after_text(at: int) -> int:
        return at + 1 + 2 * data[at]

    at = after_text(8) + 2
    for _ in range(5):
        at += 4 + 2 * int.from_bytes(data[at : at + 4], "little")
    for _ in range(3):
        at = after_text(at)
    return at, after_text(at)


def serial_of(device_info: bytes) -> str:
    """Return the serial number in a DeviceInfo dataset; empty where there is none, or it is no such dataset."""
    try:
        begin, end = _texts_of_device_info(device_info)
    except IndexError:
        return ""
    return text_at(device_info[begin:end]) or ""


def _without_serial(data: bytes) -> bytes:
    serial = serial_of(data)
    if not serial:
        return data
    begin, _ = _texts_of_device_info(data)
    return data[: begin + 1] + covered(serial).encode("utf-16-le") + data[begin + 1 + 2 * len(serial) :]


def _eos(data: bytes, *, whole: bool) -> bytes:
    """Return records of one family's events, or what is set by it, with owner, number and clock covered."""
    out, at = bytearray(data), 0
    while at + 12 <= len(out):
        size, first, second = struct.unpack_from("<III", out, at)
        kind, code = (first, second) if whole else (_EOS_VALUE, first)
        end = at + size if whole else len(out)
        if size < 8:
            break
        begin = at + (12 if whole else 8)
        if kind == _EOS_VALUE and code in (*_EOS_PERSONAL, *_EOS_CLOCK):
            out[begin:end] = _covered_value(bytes(out[begin:end]), clock=code in _EOS_CLOCK)
        at = end
    return bytes(out)


def _covered_value(value: bytes, *, clock: bool) -> bytes:
    if clock:
        return bytes(len(value))
    text, zero, rest = value.partition(b"\0")
    return covered(text.decode("latin-1")).encode("latin-1") + zero + rest


def _without_times(data: bytes) -> bytes:
    """Return data without the times that stand behind names of files in one family's listings."""
    out = bytearray(data)
    for found in _NAME_THEN_TIME.finditer(data):
        if int.from_bytes(found[1], "little") in _OUR_DAYS:
            out[found.end() : found.end() + 4] = bytes(4)
    return bytes(out)
