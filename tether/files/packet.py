"""Where in the bytes of an XMP packet (ISO 16684-1, its RDF in UTF-8) each property of its top level stands.

With that, properties are put in and taken out, and every other byte of a sidecar stays as another program wrote it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from operator import itemgetter
from xml.parsers import expat
from xml.sax.saxutils import escape

_RDF = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
_XML = "http://www.w3.org/XML/1998/namespace"
_ARRAYS = {(_RDF, "Bag"), (_RDF, "Seq"), (_RDF, "Alt")}
_TAG = re.compile(rb"<(?:[^>\"']|\"[^\"]*\"|'[^']*')*>")
_ATTRIBUTE = re.compile(rb"\s+([^\s=/>\"']+)\s*=\s*(?:\"[^\"]*\"|'[^']*')")
_DESCRIPTION = re.compile(rb"<rdf:Description\b.*</rdf:Description>", re.DOTALL)

#: A packet with nothing in it.
EMPTY = f"""<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/">
<rdf:RDF xmlns:rdf="{_RDF}">
</rdf:RDF>
</x:xmpmeta>
<?xpacket end="w"?>
""".encode()

Name = tuple[str, str]
Change = tuple[int, int, bytes]


class NotAPacketError(ValueError):
    """What is there is no packet that can be changed without touching the rest of it; the text says why."""


@dataclass(frozen=True, kw_only=True)
class Property:
    """A property: its namespace and name, the bytes from `start` to `end`, and where an item could be added to it.

    `description` is the number of the rdf:Description that it stands in.
    """

    name: Name
    start: int
    end: int
    description: int
    items_end: int | None = None


@dataclass(frozen=True, kw_only=True)
class Packet:
    """A packet: its bytes, its properties, from where to where each rdf:Description goes, and where its RDF ends."""

    data: bytes
    properties: tuple[Property, ...]
    descriptions: tuple[tuple[int, int], ...]
    rdf_end: int

    def found(self, name: Name) -> Property | None:
        """Return a property by its name; None where there is none."""
        return next((one for one in self.properties if one.name == name), None)

    def with_changes(self, removed: Iterable[Property], items: Sequence[tuple[Property, str]], added: bytes) -> bytes:
        """Return the packet's bytes without some properties, with items added to others, and with a description added.

        A description of which nothing is left goes as a whole.
        """
        gone = list(removed)
        changes = [*self._removals(gone), *(_item(one, text) for one, text in items)]
        if added:
            changes.append((self.rdf_end, self.rdf_end, added + b"\n"))
        pieces, at = [], 0
        for start, end, put in sorted(changes, key=itemgetter(0)):
            pieces += [self.data[at:start], put]
            at = end
        return b"".join([*pieces, self.data[at:]])

    def _removals(self, gone: list[Property]) -> list[Change]:
        left = {one.description for one in self.properties if one not in gone}
        emptied = {one.description for one in gone} - left
        ranges = [self.descriptions[number] for number in emptied]
        ranges = [(start, end + (self.data[end : end + 1] == b"\n")) for start, end in ranges]
        ranges += [(one.start, one.end) for one in gone if one.description in left]
        return [(start, end, b"") for start, end in ranges]


def _item(array: Property, text: str) -> Change:
    if array.items_end is None:
        raise ValueError("nothing can be added to this property")
    return array.items_end, array.items_end, f"<rdf:li>{escape(text)}</rdf:li>".encode()


def description_of(packet: bytes) -> bytes:
    """Return the rdf:Description of a packet that has one; it can stand in any other, where RDF goes by this prefix."""
    found = _DESCRIPTION.search(packet)
    return found.group() if found else b""


def parsed(data: bytes) -> Packet:
    """Return where the properties of a packet are.

    Raises
    ------
    NotAPacketError
        It is no XML in UTF-8, has a document type of its own, or not one RDF.
    """
    reader = _Reader(data)
    try:
        data.decode()
        reader.parser.Parse(data, True)
    except (UnicodeDecodeError, expat.ExpatError) as error:
        raise NotAPacketError("it is not XML in UTF-8") from error
    if reader.rdf_end is None:
        raise NotAPacketError("it has no RDF in it")
    return Packet(
        data=data,
        properties=tuple(reader.properties),
        descriptions=tuple(reader.descriptions),
        rdf_end=reader.rdf_end,
    )


class _Reader:
    """Hears the parser; `path` is the names of the elements that are open, `scopes` the prefixes known in each."""

    def __init__(self, data: bytes) -> None:
        self.data = data
        self.parser = expat.ParserCreate()
        self.parser.ordered_attributes = True
        self.parser.StartElementHandler = self._begins
        self.parser.EndElementHandler = self._ends
        self.parser.StartDoctypeDeclHandler = self._has_doctype
        self.properties: list[Property] = []
        self.descriptions: list[tuple[int, int]] = []
        self.rdf_end: int | None = None
        self._path: list[Name] = []
        self._scopes: list[dict[str, str]] = [{"xml": _XML}]
        self._starts: list[int] = []
        self._items_end: int | None = None

    @property
    def _at(self) -> int:
        return self.parser.CurrentByteIndex

    @property
    def _depth(self) -> int | None:
        """How deep within RDF: 1 a description, 2 a property, 3 what it holds; None outside."""
        return len(self._path) - 1 - self._path.index((_RDF, "RDF")) if (_RDF, "RDF") in self._path else None

    def _has_doctype(self, *_: object) -> None:
        raise NotAPacketError("it has a document type of its own")

    def _name(self, raw: str, *, of_attribute: bool = False) -> Name:
        prefix, colon, local = raw.rpartition(":")
        if of_attribute and not colon:
            return "", local
        return self._scopes[-1].get(prefix, ""), local

    def _begins(self, raw: str, attributes: list[str]) -> None:
        pairs = dict(zip(attributes[::2], attributes[1::2], strict=True))
        declared = {key.partition(":")[2]: uri for key, uri in pairs.items() if key.partition(":")[0] == "xmlns"}
        self._scopes.append({**self._scopes[-1], **declared})
        self._path.append(self._name(raw))
        self._starts.append(self._at)
        if self._path[-1] == (_RDF, "RDF") and (self.rdf_end is not None or self._path.count((_RDF, "RDF")) > 1):
            raise NotAPacketError("it has more than one RDF")
        if self._depth == 1:
            self._take_attributes()
        elif self._depth == 2:
            self._items_end = None

    def _take_attributes(self) -> None:
        """Take the properties that are written as attributes of a description."""
        start, end = _tag(self.data, self._at)
        for found in _ATTRIBUTE.finditer(self.data, start, end):
            name = self._name(found[1].decode(), of_attribute=True)
            if name[0] not in ("", _RDF, _XML) and not found[1].startswith(b"xmlns"):
                self._take(name, *found.span())

    def _take(self, name: Name, start: int, end: int) -> None:
        items_end = self._items_end if self._depth == 2 else None
        number = len(self.descriptions)
        self.properties.append(Property(name=name, start=start, end=end, description=number, items_end=items_end))

    def _ends(self, _raw: str) -> None:
        start, depth = self._starts.pop(), self._depth
        is_empty, end = self._end_of(start)
        if depth == 0:
            if is_empty:
                raise NotAPacketError("its RDF is empty")
            self.rdf_end = self._at
        elif depth == 1:
            self.descriptions.append((start, end))
        elif depth == 2:
            self._take(self._path[-1], start, end)
        elif depth == 3 and self._path[-1] in _ARRAYS and not is_empty:
            self._items_end = self._at
        self._path.pop()
        self._scopes.pop()

    def _end_of(self, start: int) -> tuple[bool, int]:
        """Say whether the element that ends is one that has no end of its own, such as <a/>, and where it ends."""
        end = _tag(self.data, start)[1]
        is_empty = self.data[end - 2 : end] == b"/>"
        return is_empty, end if is_empty else _tag(self.data, self._at)[1]


def _tag(data: bytes, at: int) -> tuple[int, int]:
    found = _TAG.match(data, at)
    if found is None:
        raise NotAPacketError("its marks do not stand where they should")
    return found.span()
