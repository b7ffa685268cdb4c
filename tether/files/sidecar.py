"""XMP sidecars (ISO 16684-1): what is to be said of a raw file, put into a file beside it, or into one that is there.

libexiv2 writes our fields and reads all back; they stand in an rdf:Description of their own. Every byte of another
program stays. A standard field that has a value of another's stays too: it is told apart from one of ours by the digest
of what was written, which ``tether:Wrote`` keeps.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import exiv2  # type: ignore[import-untyped]

from tether.errors import LostError, system_reason
from tether.files.errors import UnreadableFileError
from tether.files.packet import EMPTY, Name, NotAPacketError, Packet, Property, description_of, parsed
from tether.files.safe import safe_write

# libexiv2 talks to standard error about every oddity of another program's.
exiv2.LogMsg.setLevel(exiv2.LogMsg.Level.mute)

#: The namespace of our own fields: a name and no address, see ``docs/handing-over.md``.
NAMESPACE = "https://tether.invalid/xmp/1/"
_PREFIX = "tether"
_OWN = f"Xmp.{_PREFIX}."
_WROTE = f"{_OWN}Wrote"
_RATING, _UNRATED = "Xmp.xmp.Rating", "0"
_NAMESPACES = {
    "dc": "http://purl.org/dc/elements/1.1/",
    "exif": "http://ns.adobe.com/exif/1.0/",
    "tiff": "http://ns.adobe.com/tiff/1.0/",
    "xmp": "http://ns.adobe.com/xap/1.0/",
    _PREFIX: NAMESPACE,
}
_DIGEST_LENGTH = 16


@dataclass(frozen=True)
class Words:
    """A text for people, in no language that is named."""

    text: str


@dataclass(frozen=True)
class Unordered:
    """Items whose order does not matter; where another program has some too, ours are added."""

    items: tuple[str, ...]


@dataclass(frozen=True)
class Ordered:
    """Items in order."""

    items: tuple[str, ...]


#: What a field holds; fields go by libexiv2's names, such as ``Xmp.dc.subject``.
Value = str | Words | Unordered | Ordered
Fields = Mapping[str, Value]


@dataclass(frozen=True, kw_only=True)
class Merged:
    """A sidecar's new bytes, and the names of fields in it that have a value of another's, which stays."""

    data: bytes
    stayed: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class SidecarWritten:
    """What became of a sidecar, and the names of fields in it that have a value of another's, which stays."""

    state: Literal["new", "changed", "same"]
    stayed: tuple[str, ...]


def write_sidecar(path: Path, fields: Fields, *, begun_with: Path | None = None) -> SidecarWritten:
    """Write fields into a sidecar, beside whatever stands in it; the file is the old or the new one, never a part.

    Parameters
    ----------
    path
        The sidecar; where there is none it begins with what `begun_with` holds, if that is there.
    fields
        What is to be said; what we said before and is not among it is taken out.

    Raises
    ------
    UnreadableFileError
        What is there can't be read, or not be changed without touching what is another's; it is left as it is.
    SupplyError, PlanError, LostError
        The disk would not take it, see :func:`tether.files.errors.disk_sentences`.
    """
    there = _read(path)
    try:
        merged = merge(_read(begun_with) if there is None and begun_with else there, fields)
    except NotAPacketError as error:
        raise UnreadableFileError(
            f"{path} is left as it is: {error}. Move it away, then write sidecars again."
        ) from error
    if merged.data == there:
        return SidecarWritten(state="same", stayed=merged.stayed)
    safe_write(path, merged.data)
    return SidecarWritten(state="new" if there is None else "changed", stayed=merged.stayed)


def _read(path: Path) -> bytes | None:
    try:
        return path.read_bytes()
    except FileNotFoundError:
        return None
    except OSError as error:
        raise LostError(f"{path} cannot be read: {system_reason(error)}.") from error


def merge(there: bytes | None, fields: Fields) -> Merged:
    """Return a sidecar with fields in it; `there` is what the sidecar holds, None: there is none.

    Raises
    ------
    NotAPacketError
        What is there is no packet, or it can't be changed without touching what is another's.
    """
    packet = parsed(there or EMPTY)
    before = _values(packet.data)
    wrote = set(_items(before, _WROTE))
    whole = {_whole(key) for key in before}
    ours = {key for key in whole if _is_ours(key, before.get(key, ""), wrote)}
    others = {key for key in fields if key in whole - ours}
    added = {key: value for key, value in fields.items() if key not in others}
    extended = {key: items for key in sorted(others) if (items := _missing(before, packet, key, fields[key]))}
    marks = sorted(_mark(key, text) for key, text in _written(added).items() if not key.startswith(_OWN))
    data = packet.with_changes(
        [one for one in packet.properties if one.name in {_name(key) for key in ours}],
        [(array, item) for array, items in extended.values() for item in items],
        description_of(_packet({**added, _WROTE: Unordered(tuple(marks))})),
    )
    after = _values(data)
    others_before = {key: value for key, value in before.items() if _whole(key) not in ours and key not in extended}
    if any(after.get(key) != value for key, value in others_before.items()):
        raise NotAPacketError("what another program wrote in it would not read as before")
    if any(after.get(key) != text for key, text in _written(added).items()):
        raise NotAPacketError("what is put into it would not read as it should")
    return Merged(data=data, stayed=tuple(key for key in sorted(others) if not _has(after, key, fields[key])))


def _whole(key: str) -> str:
    """Return the name of the field that a part of it belongs to."""
    return re.split(r"[\[/]", key, maxsplit=1)[0]


def _is_ours(key: str, value: str, wrote: set[str]) -> bool:
    """Say whether a field is ours to replace: by its name, by what was written, or as one that says “not rated”."""
    never_rated = not any(one.startswith(f"{_RATING} ") for one in wrote)
    return key.startswith(_OWN) or _mark(key, value) in wrote or (key, value, never_rated) == (_RATING, _UNRATED, True)


def _mark(key: str, value: str) -> str:
    return f"{key} {hashlib.sha256(value.encode(errors='surrogateescape')).hexdigest()[:_DIGEST_LENGTH]}"


def _name(key: str) -> Name:
    """Return the namespace and name of one of our fields, as they stand in a packet."""
    _, prefix, name = key.split(".", 2)
    return _NAMESPACES.get(prefix, ""), name


def _missing(
    before: Mapping[str, str], packet: Packet, key: str, value: Value
) -> tuple[Property, tuple[str, ...]] | None:
    """Return another's list and the items that it lacks of ours; None where there are none, or none can be added."""
    array = packet.found(_name(key))
    if not isinstance(value, Unordered) or array is None or array.items_end is None or _has(before, key, value):
        return None
    there = _items(before, key)
    return array, tuple(one for one in value.items if one not in there)


def _has(values: Mapping[str, str], key: str, value: Value) -> bool:
    """Say whether a field of another has what we would write."""
    match value:
        case Unordered(items):
            return set(items) <= set(_items(values, key))
        case Ordered(items):
            return items == _items(values, key)
        case Words(text):
            return values.get(key) == f'lang="x-default" {text}'
    return values.get(key) == value


# What the library reads and writes


def _register() -> None:
    """Make prefixes known to the library; a file that has one of them for another namespace takes it away for good."""
    for prefix, namespace in _NAMESPACES.items():
        exiv2.XmpProperties.registerNs(namespace, prefix)


def _values(data: bytes) -> dict[str, str]:
    """Return every value in a packet by the library's names, items of lists one by one as well."""
    _register()
    try:
        image = exiv2.ImageFactory.open(data)
        image.readMetadata()
        found: dict[str, str] = {}
        for one in image.xmpData():
            found[one.key()] = one.toString()
            if one.typeName() in ("XmpBag", "XmpSeq", "XmpAlt"):
                found |= {f"{one.key()}[{number}]": item for number, item in enumerate(one.value(), start=1)}
    except exiv2.Exiv2Error as error:
        raise NotAPacketError("it is not XMP that can be read") from error
    return found


def _items(values: Mapping[str, str], key: str) -> tuple[str, ...]:
    """Return the items of a list."""
    return tuple(value for one, value in values.items() if one.startswith(f"{key}[") and one.endswith("]"))


def _packet(fields: Fields) -> bytes:
    _register()
    data = exiv2.XmpData()
    for key, value in fields.items():
        data[key] = _typed(value)
    image = exiv2.ImageFactory.create(exiv2.ImageType.xmp)
    image.setXmpData(data)
    image.writeMetadata()
    return bytes(image.io().mmap())


def _typed(value: Value) -> Any:
    match value:
        case Words(text):
            return exiv2.LangAltValue({"x-default": text})
        case Unordered(items):
            return exiv2.XmpArrayValue(list(items), exiv2.TypeId.xmpBag)
        case Ordered(items):
            return exiv2.XmpArrayValue(list(items), exiv2.TypeId.xmpSeq)
    return value


def _written(fields: Fields) -> dict[str, str]:
    """Return what the library reads of fields that it wrote, by the names that they were given."""
    return {key: value for key, value in _values(_packet(fields)).items() if key in fields}
