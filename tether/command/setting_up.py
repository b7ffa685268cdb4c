"""`tether setup`: what a system needs once, printed to be put where it belongs; nothing is changed by this program."""

from __future__ import annotations

import getpass
import shlex
import sys
from dataclasses import asdict, dataclass

import click

from tether import __version__
from tether.command.common import print_json, say
from tether.errors import PlanError
from tether.files.shipped import shipped

SETUP_SCHEMA = "tether-setup/1"
_RULE, _UNIT = "60-tether-camera.rules", "tether-later@.service"
_MANUALS = "~/.local/share/man/man1"
_ANYBODY = "/usr/bin/env python3 -P"


def print_part(part: str | None, as_json: bool = False) -> None:
    """Print a part of the set-up to standard output, or, without one, what there is to do."""
    if part and as_json:
        raise PlanError(f"tether setup {part}: this is printed as it is; --json goes without a PART.")
    if part == "rule":
        click.echo((shipped("hardware-notes") / _RULE).read_text(encoding="utf-8"), nl=False)
    elif part == "unit":
        text = (shipped("hardware-notes") / _UNIT).read_text(encoding="utf-8")
        click.echo(text.replace(_ANYBODY, shlex.join([sys.executable, "-P"])), nl=False)
    elif part == "man":
        from tether.command.commands import tether
        from tether.command.manual import manual

        click.echo(manual(tether, __version__), nl=False)
    elif as_json:
        print_json(
            {
                "schema": SETUP_SCHEMA,
                "steps": [asdict(one) for one in _steps()],
                "notes": str(shipped("hardware-notes")),
            }
        )
    else:
        for step in _steps():
            say(step.what, *(f"    {line}" for line in step.lines))
        say(f"Notes on bodies and systems: {shipped('hardware-notes')}")


def print_completion(shell: str) -> None:
    """Print what a shell reads so that its Tab key completes commands."""
    from click.shell_completion import get_completion_class

    from tether.command.commands import tether

    kind = get_completion_class(shell)
    if kind is not None:
        click.echo(kind(tether, {}, "tether", "_TETHER_COMPLETE").source())


@dataclass(frozen=True, kw_only=True)
class _Step:
    """One thing that a system needs once: the part it is for, why, and the lines for a shell that do it."""

    part: str
    what: str
    lines: tuple[str, ...]


def _steps() -> tuple[_Step, ...]:
    me = shlex.join([sys.executable, "-P", "-m", "tether"])
    user = getpass.getuser()
    return (
        _Step(
            part="rule",
            what="So that you may open a camera on USB (a udev rule, and the group plugdev; log in anew afterwards):",
            lines=(
                f"{me} setup rule | sudo tee /etc/udev/rules.d/{_RULE} >/dev/null",
                f"sudo usermod -aG plugdev {shlex.quote(user)}",
                "sudo udevadm control --reload && sudo udevadm trigger --subsystem-match=usb",
            ),
        ),
        _Step(
            part="unit",
            what="So that runs planned for later start after a restart of the machine (a systemd unit):",
            lines=(
                f"{me} setup unit | sudo tee /etc/systemd/system/{_UNIT} >/dev/null",
                f"sudo systemctl daemon-reload && sudo systemctl enable tether-later@{shlex.quote(user)}.service",
            ),
        ),
        _Step(
            part="completion",
            what="So that the Tab key completes commands, options, plans, outings, bodies and words (also: zsh, fish):",
            lines=(f'eval "$({me} completion bash)"   # in ~/.bashrc, so that it stays',),
        ),
        _Step(
            part="man",
            what="So that “man tether” has the manual:",
            lines=(f"mkdir -p {_MANUALS} && {me} setup man > {_MANUALS}/tether.1",),
        ),
    )
