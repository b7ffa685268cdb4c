"""Sidecars: our fields are in them as given, and every byte of another program stays."""

from __future__ import annotations

import re
from pathlib import Path

import exiv2  # type: ignore[import-untyped]
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tether.files.errors import UnreadableFileError
from tether.files.sidecar import Fields, Ordered, Unordered, Words, merge, write_sidecar

#: As another program may leave one: structures, languages, qualifiers, namespaces that nobody knows, odd white space.
OTHERS = (Path(__file__).parents[1] / "data" / "sidecar_of_another.xmp").read_bytes()
FIELDS: Fields = {
    "Xmp.xmp.Rating": "5",
    "Xmp.dc.subject": Unordered(("water", "rung 5", "Grau <10> & Söhne")),
    "Xmp.exif.ExposureTime": "12853/100",
    "Xmp.exif.ISOSpeedRatings": Ordered(("100",)),
    "Xmp.tether.OpenTime": "128.53",
    "Xmp.tether.ColourCast": Ordered(("0.100", "0.000", "-0.200")),
}
RDF = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
#: A description of our own, in which nothing of another program stands.
OURS = re.compile(
    rb'<rdf:Description rdf:about=""\n    xmlns:(?:(?!</rdf:Desc).)*?xmlns:tether=".*?</rdf:Description>\n', re.DOTALL
)


def read(data: bytes) -> dict[str, str]:
    image = exiv2.ImageFactory.open(data)
    image.readMetadata()
    return {one.key(): one.toString() for one in image.xmpData()}


def packet(inside: str, attributes: str = "") -> bytes:
    """A sidecar of another with a description of these properties, as elements and as attributes."""
    return f"""<?xml version="1.0" encoding="UTF-8"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="{RDF}"><rdf:Description rdf:about=""
 xmlns:xmp="http://ns.adobe.com/xap/1.0/" xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:z="http://example.org/z/"
 {attributes}>{inside}</rdf:Description></rdf:RDF></x:xmpmeta>""".encode()


def test_a_new_sidecar_has_what_was_given_and_no_more() -> None:
    values = read(merge(None, FIELDS).data)
    assert values.pop("Xmp.tether.Wrote")
    assert values == {
        "Xmp.xmp.Rating": "5",
        "Xmp.dc.subject": "water, rung 5, Grau <10> & Söhne",
        "Xmp.exif.ExposureTime": "12853/100",
        "Xmp.exif.ISOSpeedRatings": "100",
        "Xmp.tether.OpenTime": "128.53",
        "Xmp.tether.ColourCast": "0.100, 0.000, -0.200",
    }


def test_every_byte_of_another_stays() -> None:
    merged = merge(OTHERS, FIELDS)
    without = OURS.sub(b"", merged.data, count=1)
    for keyword in (b"<rdf:li>rung 5</rdf:li>", "<rdf:li>Grau &lt;10&gt; &amp; Söhne</rdf:li>".encode()):
        assert without.count(keyword) == 1
        without = without.replace(keyword, b"")
    assert without == OTHERS
    assert merged.stayed == ()


def test_every_value_of_another_reads_as_before() -> None:
    before, after = read(OTHERS), read(merge(OTHERS, FIELDS).data)
    assert before["Xmp.weird.Attr"] == 'a < b & "c"'
    assert before["Xmp.weird.Ws"] == "  two\n lines\ttab  "
    assert before["Xmp.dc.creator[1]/?weird:role"] == "first"
    assert before["Xmp.crs.MaskGroupBasedCorrections[1]/crs:Inner[1]/crs:Y"] == "2"
    assert after["Xmp.dc.subject"] == "water, rock & roll, rung 5, Grau <10> & Söhne"
    assert {key: after[key] for key in before if key != "Xmp.dc.subject"} == {
        key: value for key, value in before.items() if key != "Xmp.dc.subject"
    }


@pytest.mark.parametrize("there", [None, OTHERS, packet("<z:a>1</z:a>")], ids=["new", "rich", "plain"])
def test_writing_the_same_again_changes_no_byte(there: bytes | None) -> None:
    once = merge(there, FIELDS).data
    assert merge(once, FIELDS).data == once


def test_what_we_wrote_is_replaced_and_taken_away() -> None:
    once = merge(OTHERS, FIELDS).data
    other = merge(once, {"Xmp.xmp.Rating": "-1", "Xmp.tether.OpenTime": "2"})
    values = read(other.data)
    assert (values["Xmp.xmp.Rating"], values["Xmp.tether.OpenTime"]) == ("-1", "2")
    assert not {"Xmp.exif.ExposureTime", "Xmp.exif.ISOSpeedRatings", "Xmp.tether.ColourCast"} & set(values)
    assert "Xmp.xmp.Rating" not in read(merge(once, {}).data)
    assert read(merge(once, {}).data)["Xmp.weird.Attr"] == 'a < b & "c"'


@pytest.mark.parametrize(
    "there",
    [
        packet("<xmp:Rating>3</xmp:Rating>"),
        packet("", "xmp:Rating='3'"),
        packet("", 'z:a="xmp:Rating=" xmp:Rating = "3"'),
    ],
)
def test_a_rating_of_another_stays_and_is_told(there: bytes) -> None:
    merged = merge(there, FIELDS)
    assert read(merged.data)["Xmp.xmp.Rating"] == "3"
    assert merged.stayed == ("Xmp.xmp.Rating",)


def test_a_rating_of_ours_that_the_person_changed_elsewhere_is_theirs() -> None:
    changed = merge(None, FIELDS).data.replace(b'xmp:Rating="5"', b'xmp:Rating="4"')
    again = merge(changed, FIELDS)
    assert read(again.data)["Xmp.xmp.Rating"] == "4"
    assert again.stayed == ("Xmp.xmp.Rating",)


def test_nought_is_not_rated_but_where_the_person_took_our_rating_away() -> None:
    """ISO 16684-1: a rating of 0 stands for "unrated"; many programs write it without being asked."""
    assert read(merge(packet("<xmp:Rating>0</xmp:Rating><z:a/>"), FIELDS).data)["Xmp.xmp.Rating"] == "5"
    taken_away = merge(None, FIELDS).data.replace(b'xmp:Rating="5"', b'xmp:Rating="0"')
    assert read(merge(taken_away, FIELDS).data)["Xmp.xmp.Rating"] == "0"


def test_a_description_to_which_a_language_was_added_is_theirs() -> None:
    fields = {"Xmp.dc.description": Words("Weir, rung 5.")}
    once = merge(None, fields).data
    translated = once.replace(b"</rdf:Alt>", b'<rdf:li xml:lang="de">Wehr, Stufe 5.</rdf:li></rdf:Alt>')
    again = merge(translated, {"Xmp.dc.description": Words("Weir, rung 5, kept.")})
    assert read(again.data)["Xmp.dc.description"] == 'lang="x-default" Weir, rung 5., lang="de" Wehr, Stufe 5.'
    assert again.stayed == ("Xmp.dc.description",)


@pytest.mark.parametrize("empty", ["<dc:subject><rdf:Bag/></dc:subject>", "<dc:subject/>"])
def test_an_empty_list_of_another_stays_and_is_told(empty: str) -> None:
    merged = merge(packet(empty), FIELDS)
    assert empty.encode() in merged.data
    assert merged.stayed == ("Xmp.dc.subject",)


@pytest.mark.parametrize("prefix", ["tether", "dc", "exif"])
def test_a_prefix_may_be_of_another_namespace_and_later_sidecars_do_not_suffer(prefix: str) -> None:
    before = merge(None, FIELDS).data
    element = f'<{prefix}:x xmlns:{prefix}="http://example.org/t/">1</{prefix}:x>'
    merged = merge(packet(f"{element}<z:a>1</z:a>"), FIELDS)
    assert element.encode() in merged.data
    assert merge(None, FIELDS).data == before
    assert read(merge(None, FIELDS).data)["Xmp.dc.subject"] == "water, rung 5, Grau <10> & Söhne"


def test_a_byte_order_mark_and_other_ends_of_lines_stay() -> None:
    there = b"\xef\xbb\xbf" + packet("<z:a>1</z:a>").replace(b"\n", b"\r\n")
    merged = merge(there, FIELDS).data
    assert OURS.sub(b"", merged) == there


@pytest.mark.parametrize(
    "there",
    [
        b"\x00\x01\x02",
        b"<x>",
        b"<x/>",
        OTHERS[:900],
        OTHERS.decode().encode("utf-16"),
        packet("").replace(b"<x:xmpmeta", b'<!DOCTYPE x [<!ENTITY a "b">]><x:xmpmeta', 1),
        packet("").replace(b"</x:xmpmeta>", f'<rdf:RDF xmlns:rdf="{RDF}"></rdf:RDF></x:xmpmeta>'.encode()),
        f'<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="{RDF}"/></x:xmpmeta>'.encode(),
        packet("<z:a>1</z:a><z:a>2</z:a>"),
        packet("<z:a>1</z:a>").replace(b"rdf:", b"r:").replace(b":rdf=", b":r="),
    ],
    ids=["bytes", "cut", "no RDF", "cut later", "UTF-16", "doctype", "two", "empty", "twice", "not read by libexiv2"],
)
def test_what_can_not_be_changed_safely_is_left_as_it_is(tmp_path: Path, there: bytes) -> None:
    sidecar = tmp_path / "a.xmp"
    sidecar.write_bytes(there)
    with pytest.raises(UnreadableFileError, match=r"a\.xmp is left as it is: .*\. Move it away"):
        write_sidecar(sidecar, FIELDS)
    assert sidecar.read_bytes() == there
    assert [path.name for path in tmp_path.iterdir()] == ["a.xmp"]


def test_a_sidecar_is_written_only_where_something_changes(tmp_path: Path) -> None:
    sidecar = tmp_path / "a.xmp"
    states = [write_sidecar(sidecar, fields).state for fields in (FIELDS, FIELDS, {"Xmp.xmp.Rating": "3"})]
    assert states == ["new", "same", "changed"]


TEXT = st.text(
    st.characters(min_codepoint=0x20, exclude_categories=("Cs", "Cc"), exclude_characters="\ufffe\uffff"), min_size=1
)


@given(TEXT, st.lists(TEXT, min_size=1, max_size=4, unique=True))
def test_any_text_comes_back_as_it_went_in(text: str, words: list[str]) -> None:
    fields: Fields = {
        "Xmp.dc.description": Words(f"={text}="),
        "Xmp.dc.subject": Unordered(tuple(words)),
        "Xmp.tether.A": text,
    }
    once = merge(OTHERS.replace(b"dc:description>", b"dc:rights>"), fields)
    assert once.stayed == ()
    values = read(once.data)
    assert values["Xmp.dc.description"] == f'lang="x-default" ={text}='
    assert values["Xmp.tether.A"] == text
    assert merge(once.data, fields).data == once.data
