"""The sheet as one page to look at anywhere: frames by how long they were open, with all that is known of each.

Everything is in the file, and it asks for nothing: no script, no address. It is built as a tree, so that all text in it
is escaped.
"""

from __future__ import annotations

import base64
import io
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from math import log2
from pathlib import Path
from xml.etree import ElementTree as ET

from PIL import Image, UnidentifiedImageError

from tether import wording as words
from tether.journal.story import FrameStory, LadderStory, Outing
from tether.report.audit import Split, audit
from tether.report.axis import scaled
from tether.report.choices import Choice
from tether.report.choosing import candidates_of
from tether.report.harmless import xml_text
from tether.report.histogram import histogram_picture
from tether.report.said_of_frames import changed, light_since_base, named, streak, untaken
from tether.report.strip import Part, Pictures, pictures_of
from tether.report.told import outcome_of

#: Longest side of a picture, and width and height of a picture in the strip [px].
_LONGEST_PX, _STRIP_PX = 1000, (112, 176)
#: Between pictures of the strip, and what their captions are high [px].
_GAP_PX, _CAPTION_PX = 8, 52
_QUALITY = 82
#: No request leaves the page, whatever is in it.
_POLICY = "default-src 'none'; img-src data:; style-src 'unsafe-inline'"
_STYLE = """
:root { color-scheme: dark; }
body { margin: 0; padding: 1rem; background: #262626; color: #eee; font: 1rem/1.45 system-ui, sans-serif; }
h1 { font-size: 1.4rem; margin: 0 0 .2rem; overflow-wrap: anywhere; }
p { margin: 0 0 .8rem; color: #b8b8b8; overflow-wrap: anywhere; }
.simulated { color: #fff; font-weight: bold; }
nav > div { overflow-x: auto; padding-bottom: .4rem; }
nav div div { position: relative; }
nav a { position: absolute; color: #eee; line-height: 1.4; text-align: center; text-decoration: none; }
nav img, nav .none { width: 112px; height: 176px; display: block; background: #3a3a3a; object-fit: cover; }
nav b, nav small { display: block; font-size: .8rem; }
nav b { font-size: 1rem; }
main { display: grid; gap: 1.2rem; grid-template-columns: repeat(auto-fill, minmax(min(100%, 24rem), 1fr)); }
article { background: #303030; padding: .8rem; }
article img { width: 100%; height: auto; display: block; }
article .none { padding: 3rem 1rem; background: #3a3a3a; color: #b8b8b8; }
h2 { font-size: 1.2rem; margin: .6rem 0 .3rem; }
h2 span { font-size: .85rem; font-weight: normal; color: #b8b8b8; }
dl { display: grid; grid-template-columns: max-content 1fr; gap: .1rem .8rem; margin: 0; }
dt { color: #b8b8b8; }
dd { margin: 0; overflow-wrap: anywhere; }
.keep { border-left: .4rem solid #fff; }
.maybe { border-left: .4rem dashed #b8b8b8; }
.no img { opacity: .45; }
.plot { display: block; max-width: 100%; height: auto; margin-top: .8rem; }
.plot text { fill: #eee; font: 13px system-ui, sans-serif; }
.plot .soft { fill: #b8b8b8; }
.plot .strong { font-weight: bold; }
.plot .grid { stroke: #4a4a4a; }
.plot .zero, .plot .hatch { stroke: #b8b8b8; }
.plot .edge { stroke: #fff; stroke-width: 2; }
.plot .bar { fill: #b8b8b8; }
.plot .clipped { fill: none; stroke: #fff; }
"""


@dataclass(frozen=True, kw_only=True)
class _Shown:
    """A frame with what is shown of it; pictures are JPEGs, None where there is none."""

    frame: FrameStory
    split: Split | None
    choice: Choice
    picture: tuple[bytes, tuple[int, int]] | None
    crop: bytes | None

    @property
    def open_words(self) -> str:
        return words.measured_time(self.frame.believed_open_s)


def sheet_page(
    folder: Path,
    outing: Outing,
    ladder: LadderStory,
    choices: Mapping[int, Choice],
    rungs: Collection[int] | None,
    part: Part | None = None,
) -> bytes:
    """Return the sheet of a ladder as an HTML file.

    Parameters
    ----------
    folder
        The outing's folder, whose previews are used.
    outing, ladder, choices
        What is told.
    rungs
        Which rungs to show; None: all. Frames of no rung are shown where something was chosen or noted of them.
    part
        Which part of each frame the strip shows; None: the water where it is known, else the middle.
    """
    splits = {split.frame: split for split in audit(ladder)}
    shown = [
        _shown(folder, frame, splits.get(frame.frame), choices.get(frame.frame, Choice()))
        for frame in _in_order(ladder, choices, rungs)
    ]
    root = ET.Element("html", lang="en")
    _head(root, ladder)
    body = ET.SubElement(root, "body")
    _beginning(body, outing, ladder, untaken(ladder, {one.frame.rung for one in shown}, rungs))
    _strip(body, shown, _pictures(folder, ladder, choices, shown, part))
    main = ET.SubElement(body, "main")
    for one in shown:
        _article(main, one, named(one.frame, ladder))
    return f"<!DOCTYPE html>\n{ET.tostring(root, encoding='unicode', method='html')}\n".encode()


def _in_order(ladder: LadderStory, choices: Mapping[int, Choice], rungs: Collection[int] | None) -> list[FrameStory]:
    """Return the frames to show, the shortest first, those of one time as they were taken."""
    frames = [
        frame
        for frame in ladder.frames
        if (frame.kind == "rung" or frame.frame in choices) and (rungs is None or frame.rung in rungs)
    ]
    return sorted(frames, key=lambda frame: (frame.believed_open_s or frame.planned.time_s or 0.0, frame.frame))


def _shown(folder: Path, frame: FrameStory, split: Split | None, choice: Choice) -> _Shown:
    whole = preview_of(folder, frame)
    picture = crop = None
    if whole is not None:
        whole.thumbnail((_LONGEST_PX, _LONGEST_PX))
        picture, crop = (_jpeg(whole), whole.size), _jpeg(_middle(whole))
    return _Shown(frame=frame, split=split, choice=choice, picture=picture, crop=crop)


def preview_of(folder: Path, frame: FrameStory) -> Image.Image | None:
    """Return a frame's preview, or None where there is none that can be read."""
    if frame.preview is None:
        return None
    try:
        with Image.open(folder / frame.preview) as picture:
            return picture.convert("RGB")
    except (OSError, UnidentifiedImageError):
        return None


def _middle(picture: Image.Image) -> Image.Image:
    """Return a part from the middle, half as high as the picture."""
    down = max(picture.height // 4, 1)
    across = max(round(down * _STRIP_PX[0] / _STRIP_PX[1]), 1)
    x, y = picture.width // 2, picture.height // 2
    return picture.crop((x - across, y - down, x + across, y + down)).resize(_STRIP_PX)


def _jpeg(picture: Image.Image) -> bytes:
    file = io.BytesIO()
    picture.save(file, "JPEG", quality=_QUALITY)
    return file.getvalue()


# The page


def _put(parent: ET.Element, tag: str, text: str = "", **attributes: str) -> ET.Element:
    element = ET.SubElement(parent, tag, {key.rstrip("_"): xml_text(value) for key, value in attributes.items()})
    element.text = xml_text(text)
    return element


def _head(root: ET.Element, ladder: LadderStory) -> None:
    head = ET.SubElement(root, "head")
    _put(head, "meta", charset="utf-8")
    ET.SubElement(head, "meta", {"http-equiv": "Content-Security-Policy", "content": _POLICY})
    _put(head, "meta", name="viewport", content="width=device-width, initial-scale=1")
    _put(head, "title", _title(ladder))
    ET.SubElement(head, "style").text = _STYLE


def _title(ladder: LadderStory) -> str:
    return ladder.title or f"Ladder {ladder.ladder}"


def _beginning(body: ET.Element, outing: Outing, ladder: LadderStory, missing: str) -> None:
    header = ET.SubElement(body, "header")
    _put(header, "h1", _title(ladder))
    if outing.simulated:
        _put(header, "p", words.SIMULATED, class_="simulated")
    days = sorted({run.started_utc.date().isoformat() for run in outing.runs})
    _put(header, "p", " · ".join((outing.name, *days, f"ladder {ladder.ladder}: {outcome_of(ladder)}")))
    if missing:
        _put(header, "p", missing)


def _pictures(
    folder: Path, ladder: LadderStory, choices: Mapping[int, Choice], shown: list[_Shown], part: Part | None
) -> Pictures:
    """Return the same part of each frame, of the raw frames where they are there, else of the previews."""
    numbers = {one.frame.frame for one in shown}
    candidates = [one for one in candidates_of(ladder, choices) if one.frame in numbers]
    cells = ladder.regions.cells if ladder.regions else ()
    made = pictures_of(folder, candidates, cells, _STRIP_PX, part)
    if made.jpegs:
        return made
    return Pictures(jpegs={one.frame.frame: one.crop for one in shown if one.crop is not None}, words="")


def _strip(body: ET.Element, shown: list[_Shown], pictures: Pictures) -> None:
    """Draw the same part of each rung's frames along an axis of open time; each leads to its frame."""
    frames = [one for one in shown if one.frame.kind == "rung" and one.frame.believed_open_s]
    if not frames:
        return
    axis = scaled([log2(one.frame.believed_open_s or 1.0) for one in frames], wide=_STRIP_PX[0], gap=_GAP_PX)
    row_px = _STRIP_PX[1] + _CAPTION_PX
    nav = _put(body, "nav")
    size = f"width: {axis.width}px; height: {axis.rows * row_px}px"
    strip = _put(_put(nav, "div", tabindex="0"), "div", style=size)
    for one, place in zip(frames, axis.places, strict=True):
        where = f"left: {place.left}px; top: {place.row * row_px}px; width: {axis.wide}px"
        link = _put(strip, "a", href=f"#frame-{one.frame.frame}", style=where)
        jpeg = pictures.jpegs.get(one.frame.frame)
        if jpeg is None:
            _put(link, "span", class_="none")
        else:
            _put(link, "img", src=_embedded(jpeg), alt=f"A part of frame {one.frame.frame}")
        _put(link, "b", words.planned_time(one.frame.believed_open_s))
        _put(link, "small", f"{_place(one.frame)}{f', {one.choice.verdict}' if one.choice.verdict else ''}")
    _put(nav, "p", _told(pictures))


def _told(pictures: Pictures) -> str:
    of = "By how long the shutter was open; a stop is as wide everywhere. "
    if not pictures.words:
        return f"{of}The middle of each preview, as the camera made it."
    return f"{of}Shown is {pictures.words}; brightness and colour are matched by the rock, as far as it was read."


def _embedded(jpeg: bytes) -> str:
    return f"data:image/jpeg;base64,{base64.b64encode(jpeg).decode()}"


def _article(main: ET.Element, one: _Shown, name: str) -> None:
    number = one.frame.frame
    article = _put(main, "article", id=f"frame-{number}", class_=one.choice.verdict or "open")
    if one.picture is None:
        _put(article, "div", "no preview", class_="none")
    else:
        jpeg, (width, height) = one.picture
        of = f"Frame {number}, open {one.open_words}"
        _put(article, "img", src=_embedded(jpeg), alt=of, width=str(width), height=str(height), loading="lazy")
    heading = _put(article, "h2", f"{name} ")
    _put(heading, "span", f"{_place(one.frame)}, frame {number}")
    facts = ET.SubElement(article, "dl")
    for name, text in _facts(one):
        _put(facts, "dt", name)
        _put(facts, "dd", text)
    if one.frame.histogram is not None:
        article.append(histogram_picture(one.frame.histogram, one.frame.readings))


def _place(frame: FrameStory) -> str:
    return f"rung {words.place(frame.rung, frame.kind)}" if frame.rung is not None else words.kind(frame.kind)


def _facts(one: _Shown) -> Iterator[tuple[str, str]]:
    frame, readings = one.frame, one.frame.readings
    yield "Exposure", f"{one.open_words}, {words.aperture(frame.aperture)}, ISO {words.iso(frame.iso)}"
    if otherwise := changed(frame):
        yield "Planned", f"{words.planned_time(frame.planned.time_s)}; {otherwise}"
    yield "Filters", _filters(frame)
    if readings is not None:
        yield "Headroom", _room(readings.headroom_stops, readings.clipped_share)
    if readings is not None and readings.water is not None:
        yield "In the water", _room(readings.water.headroom_stops, readings.water.clipped_share)
    if readings is not None and readings.streak is not None:
        length = streak(readings.streak)
        yield "Streak", length if length == words.NOT_KNOWN else f"{length} px"
    if one.split is not None:
        yield "Light", light_since_base(one.split)
    if frame.outcome != "made":
        yield "Outcome", frame.outcome
    if frame.notes:
        yield "Log", " ".join(frame.notes)
    if one.choice.verdict:
        yield "Choice", one.choice.verdict
    if one.choice.note:
        yield "Note", one.choice.note


def _filters(frame: FrameStory) -> str:
    return f"{words.filters(frame.filters)} ({words.count(frame.filter_stops)} stops)" if frame.filters else "none"


def _room(headroom_stops: float | None, clipped_share: float) -> str:
    room = words.room(headroom_stops, clipped_share)
    return room if headroom_stops is None else f"{room} stops until it clips"
