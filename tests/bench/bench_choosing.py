"""How soon a crop of a frame is there, and what the process that makes them takes. Run by `make bench`.

Frames of 24 megapixels in lossless JPEG (a DNG), drawn: figures of simulation; LibRaw decodes them by 41 to 50
megapixels a second on the machine of docs/figures.md, so its share alone is half a second. And a real frame as its
maker's body compressed it, where `make prove` has fetched it: 18 megapixels, and 24 of them with a third of its rows
once more. Sixty frames of each, links to six that are drawn and to the real one, as in an outing of an evening. Goal:
the first crop of a frame that nobody has looked at within 0.5 s.
"""

from __future__ import annotations

import io
import resource
import shutil
import statistics
import struct
import tempfile
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import imagecodecs
import numpy as np
import tifffile
from numpy.typing import NDArray

from tests.bench.bench_readings import draw
from tests.frames.real_files import CACHE
from tether.files.raw import read_raw
from tether.report.crops import Crops
from tether.report.crops_asked import Crop, Shown, Survey

FRAMES, DRAWN, SHAPE, TILE = 60, 6, (4000, 6000), 400
GOAL_S = 0.5
REAL = CACHE / "_DSC2164.ARW"
#: Of its tags: height, rows to a strip, bytes in a strip, and the two that say which part is the picture.
HEIGHT, ROWS, BYTES, PARTS = 257, 278, 279, (50720, 29896)


def compress(path: Path) -> None:
    """Write a drawn frame anew with its mosaic in lossless JPEG."""
    mosaic = read_raw(path).mosaic
    with tifffile.TiffFile(path) as old:
        first = old.pages[0]
        assert isinstance(first, tifffile.TiffPage)
        tags = [first.tags[code] for code in (50706, 50707, 50708, 50721, 50728, 50778)]
        raw = first.pages
        assert raw is not None
        sub = raw[0]
        assert isinstance(sub, tifffile.TiffPage)
        own = [sub.tags[code] for code in (33421, 33422, 50714, 50717)]

        def kept(found: list[tifffile.TiffTag]) -> list[tuple[int, int, int, object, bool]]:
            return [(one.code, int(one.dtype), one.count, one.value, True) for one in found]

        file = io.BytesIO()
        with tifffile.TiffWriter(file, byteorder="<") as writer:
            writer.write(
                np.zeros((20, 30, 3), np.uint8), photometric="rgb", subifds=1, metadata=None, extratags=kept(tags)
            )
            writer.write(
                _tiles(mosaic),
                shape=mosaic.shape,
                dtype=np.uint16,
                tile=(TILE, TILE),
                photometric="cfa",
                compression=7,
                metadata=None,
                extratags=kept(own),
            )
    path.write_bytes(file.getvalue())


def _tiles(mosaic: NDArray[np.uint16]) -> Iterator[bytes]:
    for top in range(0, mosaic.shape[0], TILE):
        for left in range(0, mosaic.shape[1], TILE):
            tile = np.ascontiguousarray(mosaic[top : top + TILE, left : left + TILE])
            yield bytes(imagecodecs.ljpeg_encode(tile, bitspersample=14))


def make_taller(path: Path, pixels: int) -> None:
    """Append rows of its own to a real frame whose rows are compressed each by itself, a byte to a pixel."""
    with tifffile.TiffFile(path) as file:
        page = file.pages[0]
        assert isinstance(page, tifffile.TiffPage)
        assert page.pages is not None
        sub = page.pages[0]
        assert isinstance(sub, tifffile.TiffPage)
        tags = {tag.code: tag for tag in sub.tags}
        parts = [(tags[code].valueoffset + 4, tags[code].value[1]) for code in PARTS]
    width, height, begins = sub.imagewidth, sub.imagelength, sub.dataoffsets[0]
    more = pixels // width - height
    content = bytearray(path.read_bytes())
    content += content[begins : begins + more * width]
    for code, value in ((HEIGHT, height + more), (ROWS, height + more), (BYTES, (height + more) * width)):
        struct.pack_into("<H" if tags[code].dtype == 3 else "<I", content, tags[code].valueoffset, value)
    for place, rows in parts:
        struct.pack_into("<I", content, place, rows + more)
    path.write_bytes(content)


def main() -> None:
    """Print how long the first crop of a frame takes, the next, and one from prepared tiles."""
    with tempfile.TemporaryDirectory() as folder:
        outing = Path(folder)
        for part in ("frames", "previews"):
            (outing / part).mkdir()
        frames = [
            Shown(frame=f"frames/{number}.dng", base="frames/0.dng", gains=(1.0, 1.0, 1.0)) for number in range(FRAMES)
        ]
        for one in frames[:DRAWN]:
            draw(outing / one.frame, SHAPE)
            compress(outing / one.frame)
        for number, one in enumerate(frames[DRAWN:]):
            (outing / one.frame).hardlink_to(outing / frames[number % DRAWN].frame)
        size = (outing / frames[0].frame).stat().st_size / 1e6
        _measure(f"frames of 24 megapixels, {size:.0f} MB each, lossless JPEG", Crops(outing), frames)
        if not REAL.exists():
            print("a real compressed frame: not fetched, `make prove` does it")
            return
        real = [replace(one, frame=f"frames/r{number}.ARW", base="frames/r0.ARW") for number, one in enumerate(frames)]
        shutil.copy(REAL, outing / real[0].frame)
        make_taller(outing / real[0].frame, SHAPE[0] * SHAPE[1])
        for one in real[1:]:
            (outing / one.frame).hardlink_to(outing / real[0].frame)
        _measure("links to a real frame, compressed by the body, 24 megapixels", Crops(outing), real)


def _measure(what: str, crops: Crops, frames: list[Shown]) -> None:
    crops.survey(Survey(frame=frames[0].base, cells=(), letters=""))  # as the page begins
    took: dict[str, list[float]] = {"first": [], "next": [], "preparing": [], "prepared": []}
    mb = []
    for one in frames[1:]:
        took["first"].append(_took_s(crops, _crop(one, 0.3)))
        took["next"].append(_took_s(crops, _crop(one, 0.6)))
        began = time.perf_counter()
        list(crops.prepare(one))
        took["preparing"].append(time.perf_counter() - began)
        took["prepared"].append(_took_s(crops, _crop(one, 0.45)))
        mb.append(_held_mb())
    print(f"{len(frames)} {what}")
    for name, seconds in took.items():
        goal = f"  goal: {GOAL_S} s" if name == "first" else ""
        print(f"{name:10} median {statistics.median(seconds):6.3f} s, longest {max(seconds):6.3f} s{goal}")
    print(f"memory     after {DRAWN} frames {mb[DRAWN - 2]:.0f} MB, after all {mb[-1]:.0f} MB")


def _held_mb() -> float:
    """Return what this process takes now: that of the crops, and of the frames that were drawn before it."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * resource.getpagesize() / 1e6


def _crop(of: Shown, place: float) -> Crop:
    return Crop(of=of, centre=(place, place), size=(720, 720), step=1)


def _took_s(crops: Crops, asked: Crop) -> float:
    began = time.perf_counter()
    crops.crop(asked)
    return time.perf_counter() - began


if __name__ == "__main__":
    main()
