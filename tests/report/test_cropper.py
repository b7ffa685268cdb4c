"""The process that makes crops for a face: one for all who ask, begun anew where it has died."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Any

import pytest

from tests.page.choosing import write_evening
from tether.files.errors import UnreadableFileError
from tether.report.choosing import to_choose
from tether.report.cropper import Cropper
from tether.report.crops_asked import Crop, Shown


@pytest.fixture(scope="module")
def evening(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_evening(tmp_path_factory.mktemp("outings") / "evening")


@pytest.fixture
def begun(monkeypatch: pytest.MonkeyPatch) -> list[asyncio.subprocess.Process]:
    """The processes that were begun."""
    found: list[asyncio.subprocess.Process] = []
    begin = asyncio.create_subprocess_exec

    async def counted(*words: str, **how: Any) -> asyncio.subprocess.Process:
        await asyncio.sleep(0)
        found.append(await begin(*words, **how))
        return found[-1]

    monkeypatch.setattr(asyncio, "create_subprocess_exec", counted)
    return found


def crop_of(evening: Path, place: float) -> Crop:
    (first, *_) = to_choose(evening).candidates
    return Crop(of=first.shown, centre=(place, 0.5), size=(16, 16), step=1)


def test_many_who_ask_at_once_are_answered_by_one_process(
    evening: Path, begun: list[asyncio.subprocess.Process]
) -> None:
    async def ask() -> list[bytes]:
        cropper = Cropper("a face")
        asked = [cropper.crop(evening, crop_of(evening, place)) for place in (0.2, 0.4, 0.6, 0.8)]
        answers = await asyncio.gather(*asked)
        await cropper.close()
        return answers

    answers = asyncio.run(ask())
    assert [one[:2] for one in answers] == [b"\xff\xd8"] * 4
    assert len(begun) == 1


def test_a_process_that_has_died_is_begun_anew_and_nobody_waits_for_it(
    evening: Path, begun: list[asyncio.subprocess.Process]
) -> None:
    async def ask() -> bytes:
        cropper = Cropper("a face")
        await cropper.crop(evening, crop_of(evening, 0.2))
        begun[0].kill()
        await begun[0].wait()
        answer = await asyncio.wait_for(cropper.crop(evening, crop_of(evening, 0.4)), 20.0)
        await cropper.close()
        return answer

    assert asyncio.run(ask())[:2] == b"\xff\xd8"
    assert len(begun) == 2


def test_a_frame_that_cannot_be_read_is_told(evening: Path) -> None:
    async def ask() -> None:
        cropper = Cropper("a face")
        gone = Shown(frame="frames/gone.dng", base="frames/gone.dng", gains=(1.0, 1.0, 1.0))
        try:
            with pytest.raises(UnreadableFileError, match="gone"):
                await cropper.crop(evening, Crop(of=gone, centre=(0.5, 0.5), size=(16, 16), step=1))
        finally:
            await cropper.close()

    asyncio.run(ask())
