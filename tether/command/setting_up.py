"""`tether setup`: what a system needs once, printed to be put where it belongs; nothing is changed by this program."""

from __future__ import annotations

import getpass
import shlex
import sys

import click

from tether.command.common import talk
from tether.files.shipped import shipped

_RULE, _UNIT = "60-tether-camera.rules", "tether-later@.service"
_ANYBODY = "/usr/bin/env python3 -P"


def print_part(part: str | None, shell: str) -> None:
    """Print a part of the set-up to standard output, or, without one, what there is to do."""
    if part == "rule":
        click.echo((shipped("hardware-notes") / _RULE).read_text(encoding="utf-8"), nl=False)
    elif part == "unit":
        text = (shipped("hardware-notes") / _UNIT).read_text(encoding="utf-8")
        click.echo(text.replace(_ANYBODY, shlex.join([sys.executable, "-P"])), nl=False)
    elif part == "completion":
        _print_completion(shell)
    else:
        _say_what_to_do()


def _print_completion(shell: str) -> None:
    from click.shell_completion import get_completion_class

    from tether.command.commands import tether

    kind = get_completion_class(shell)
    if kind is not None:
        click.echo(kind(tether, {}, "tether", "_TETHER_COMPLETE").source())


def _say_what_to_do() -> None:
    me = shlex.join([sys.executable, "-P", "-m", "tether"])
    user = getpass.getuser()
    said = talk()
    for what, lines in (
        (
            "So that you may open a camera on USB (a udev rule, and the group plugdev; log in anew afterwards):",
            (
                f"{me} setup rule | sudo tee /etc/udev/rules.d/{_RULE} >/dev/null",
                f"sudo usermod -aG plugdev {shlex.quote(user)}",
                "sudo udevadm control --reload && sudo udevadm trigger --subsystem-match=usb",
            ),
        ),
        (
            "So that runs planned for later start after a restart of the machine (a systemd unit):",
            (
                f"{me} setup unit | sudo tee /etc/systemd/system/{_UNIT} >/dev/null",
                f"sudo systemctl daemon-reload && sudo systemctl enable tether-later@{shlex.quote(user)}.service",
            ),
        ),
        (
            "So that the Tab key completes commands and options in bash (also: zsh, fish):",
            (f'eval "$({me} setup completion --shell bash)"',),
        ),
    ):
        said.print(what, soft_wrap=True)
        for line in lines:
            said.print(f"    {line}", soft_wrap=True, markup=False, highlight=False)
    said.print(f"Notes on bodies and systems: {shipped('hardware-notes')}", soft_wrap=True, markup=False)
