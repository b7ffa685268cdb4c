"""The dialect of the standard alone: what it offers, and when it takes no frame."""

from __future__ import annotations

from pathlib import Path

from tests.body.responder.client import Client
from tests.body.responder.rig import served
from tests.body.responder.test_standard import TIME, description
from tether.body.responder.start import WireHow


def test_the_plain_dialect_offers_no_bulb(tmp_path: Path) -> None:
    with served(tmp_path, "plain") as camera, Client(camera.port) as client:
        _, choices = description(client.ask(0x1014, TIME), "I")
        assert max(choices) == 2500


def test_with_the_lens_on_auto_the_plain_dialect_takes_no_frame(tmp_path: Path) -> None:
    with served(tmp_path, "plain", WireHow(focus="af")) as camera, Client(camera.port) as client:
        assert client.ask(0x100E).code == 0x2002
