"""Cameras as Linux sees them, on folders laid out as the kernel's Documentation/ABI/stable/sysfs-bus-usb says."""

from __future__ import annotations

import grp
import os
from pathlib import Path

import pytest

from tether.body.driver import usb


def device(root: Path, bus: int, number: int, kind: tuple[str, str, str], name: str = "Body") -> Path:
    """Lay out one device with one interface, and its node."""
    real = root / "real" / f"{bus}-{number}"
    interface = real / f"{bus}-{number}:1.0"
    interface.mkdir(parents=True)
    for key, value in {"busnum": str(bus), "devnum": str(number), "product": name, "manufacturer": "Maker"}.items():
        (real / key).write_text(f"{value}\n")
    for key, value in zip(("bInterfaceClass", "bInterfaceSubClass", "bInterfaceProtocol"), kind, strict=True):
        (interface / key).write_text(f"{value}\n")
    devices, node = root / "devices", root / "dev" / f"{bus:03}" / f"{number:03}"
    devices.mkdir(exist_ok=True)
    (devices / interface.name).symlink_to(interface)
    node.parent.mkdir(parents=True, exist_ok=True)
    node.touch()
    return node


def test_still_image_devices_are_found_and_no_others(tmp_path: Path) -> None:
    device(tmp_path, 1, 4, ("06", "01", "01"), "Body A")
    device(tmp_path, 1, 5, ("08", "06", "50"), "Stick")
    found = usb.find_devices(tmp_path / "devices", tmp_path / "dev")
    assert [(one.name, one.port) for one in found] == [("Maker Body A", "usb:001,004")]
    assert usb.find_devices(tmp_path / "nothing here") == ()


def test_a_node_that_may_be_opened_is_no_hindrance_and_one_that_is_gone_is_told(tmp_path: Path) -> None:
    node = device(tmp_path, 1, 4, ("06", "01", "01"))
    (found,) = usb.find_devices(tmp_path / "devices", tmp_path / "dev")
    assert usb.refusal_of(found) is None
    node.unlink()
    assert "cable" in (usb.refusal_of(found) or "")


def test_a_node_of_a_group_names_the_group(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    device(tmp_path, 1, 4, ("06", "01", "01"))
    (found,) = usb.find_devices(tmp_path / "devices", tmp_path / "dev")
    monkeypatch.setattr(os, "access", lambda *_: False)
    monkeypatch.setattr(grp, "getgrgid", lambda _gid: type("Group", (), {"gr_name": "plugdev"}))
    assert "usermod -aG plugdev" in (usb.refusal_of(found) or "")
    monkeypatch.setattr(grp, "getgrgid", lambda _gid: type("Group", (), {"gr_name": "root"}))
    assert "“tether setup” says how" in (usb.refusal_of(found) or "")


def test_whoever_has_it_open_is_named(tmp_path: Path) -> None:
    node = device(tmp_path, 1, 4, ("06", "01", "01"))
    (found,) = usb.find_devices(tmp_path / "devices", tmp_path / "dev")
    for pid, opened in (("41", node), ("42", tmp_path / "other")):
        (tmp_path / "proc" / pid / "fd").mkdir(parents=True)
        (tmp_path / "proc" / pid / "comm").write_text("volume-monitor\n")
        (tmp_path / "proc" / pid / "fd" / "3").symlink_to(opened)
    assert usb.holders_of(found, tmp_path / "proc") == ("volume-monitor (process 41)",)
