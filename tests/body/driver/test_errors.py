"""What the library reports becomes a sentence by what the person must do, and no code reaches them."""

from __future__ import annotations

import re

import pytest

from tether.body.driver import errors
from tether.body.driver.errors import LibraryError, for_person
from tether.errors import BusyError, CameraError, LostError, SupplyError

# Codes: libgphoto2_port/gphoto2/gphoto2-port-result.h and gphoto2/gphoto2-result.h of libgphoto2 2.5.33.
KINDS = [
    (-1, CameraError),
    (-2, CameraError),
    (-5, LostError),
    (-6, CameraError),
    (-7, LostError),
    (-10, BusyError),
    (-52, LostError),
    (-53, CameraError),
    (-105, LostError),
    (-107, CameraError),
    (-108, CameraError),
    (-110, BusyError),
    (-114, LostError),
    (-115, SupplyError),
    (-999, LostError),
]


@pytest.mark.parametrize(("code", "kind"), KINDS)
def test_every_code_is_a_sentence_without_it(code: int, kind: type[Exception]) -> None:
    told = for_person(LibraryError(code, "set the time to 1/8", "said so"))
    assert type(told) is kind
    assert str(code) not in str(told)
    assert re.fullmatch(r"[A-Z].*[.]", str(told))


def test_a_refusal_passes_on_what_the_camera_says() -> None:
    assert "said so" in str(for_person(LibraryError(-2, "set the time to 1/8", "said so")))


# Texts as camlibs/ptp2/library.c and config.c of libgphoto2 2.5.33 put them together, and others like them.
@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("Canon EOS Full-Press failed (0x2019: PTP Device Busy)", "Canon EOS Full-Press failed (PTP Device Busy)"),
        ("Canon EOS Trigger Capture failed: 0x2002", "Canon EOS Trigger Capture failed"),
        ("The release failed (error code 0xA200).", "The release failed"),
        ("PTP General Error (error -1: unspecified)", "PTP General Error (unspecified)"),
        ("Sorry, your camera is not on M.", "Sorry, your camera is not on M"),
    ],
)
def test_a_code_within_what_the_library_says_goes_to_the_log_and_to_nobody(
    said: str, told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    sentence = str(for_person(LibraryError(-1, "take a frame", said)))
    assert f"It says: {told}. Look at" in sentence
    assert not re.search(r"0[xX][0-9a-fA-F]|-\d", sentence)
    assert said in capsys.readouterr().err


def test_a_session_that_can_not_be_listened_to_is_gone() -> None:
    """After an answer that came too late some sessions are out of step: every event is a general error then."""
    assert LibraryError(-1, errors.LISTENING, "").gone
    assert not LibraryError(-1, "set the time to 1/8", "").gone
    assert not LibraryError(-110, errors.LISTENING, "").gone
    assert type(for_person(LibraryError(-1, errors.LISTENING, ""))) is LostError


def test_codes_are_those_of_the_library() -> None:
    import gphoto2 as gp

    for name, theirs in {
        "GENERIC": gp.GP_ERROR,
        "BAD_PARAMETERS": gp.GP_ERROR_BAD_PARAMETERS,
        "UNKNOWN_PORT": gp.GP_ERROR_UNKNOWN_PORT,
        "NOT_SUPPORTED": gp.GP_ERROR_NOT_SUPPORTED,
        "IO": gp.GP_ERROR_IO,
        "TIMEOUT": gp.GP_ERROR_TIMEOUT,
        "USB_NOT_FOUND": gp.GP_ERROR_IO_USB_FIND,
        "NOT_CLAIMED": gp.GP_ERROR_IO_USB_CLAIM,
        "NO_MODEL": gp.GP_ERROR_MODEL_NOT_FOUND,
        "NO_FOLDER": gp.GP_ERROR_DIRECTORY_NOT_FOUND,
        "NO_FILE": gp.GP_ERROR_FILE_NOT_FOUND,
        "BUSY": gp.GP_ERROR_CAMERA_BUSY,
        "NO_SPACE": gp.GP_ERROR_NO_SPACE,
    }.items():
        assert getattr(errors, name) == theirs
