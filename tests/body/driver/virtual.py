"""A camera process on libgphoto2's own virtual USB camera: what it can be asked, it is asked through the line.

The binding must find VCAMERADIR set when it is imported, so that the body can't be opened in the test's own process.
"""

from __future__ import annotations

from pathlib import Path

from PIL import Image

from tether.body.bodyfile import load_body_file
from tether.body.driver.profile import Link
from tether.body.open import BodyChoice

#: What is on its card.
NAME = "GPH_0001.JPG"


def make_card(folder: Path) -> Path:
    """Make the folder that is the virtual camera's card, with one picture on it."""
    folder.mkdir(parents=True, exist_ok=True)
    Image.new("RGB", (64, 48), (40, 80, 120)).save(folder / NAME, "JPEG")
    return folder


def virtual_choice(folder: Path) -> BodyChoice:
    """Return the virtual camera as a body to choose."""
    file = load_body_file("virtual")
    assert file.driver is not None
    return BodyChoice(abilities=file.abilities(2.8, 22.0), folder=folder, link=Link(profile=file.driver))
