"""What a system needs once, printed: data on standard output, what to do with it on standard error."""

from __future__ import annotations

import sys

import pytest

from tether.command.setting_up import print_part
from tether.files.shipped import shipped


def test_the_rule_is_printed_as_it_is(capsys: pytest.CaptureFixture[str]) -> None:
    print_part("rule", "bash")
    assert capsys.readouterr().out == (shipped("hardware-notes") / "60-tether-camera.rules").read_text()


def test_the_unit_starts_this_interpreter(capsys: pytest.CaptureFixture[str]) -> None:
    print_part("unit", "bash")
    assert f"\nExecStart={sys.executable} -P -m tether.service.scheduler\n" in capsys.readouterr().out


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion_is_printed_for_each_shell(shell: str, capsys: pytest.CaptureFixture[str]) -> None:
    print_part("completion", shell)
    told = capsys.readouterr().out
    assert "_TETHER_COMPLETE" in told
    assert f"{shell}_complete" in told


def test_without_a_part_it_says_what_to_do_and_prints_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    print_part(None, "bash")
    told = capsys.readouterr()
    assert told.out == ""
    assert f"{sys.executable} -P -m tether setup rule | sudo tee /etc/udev/rules.d/60-tether-camera.rules" in told.err
    assert str(shipped("hardware-notes")) in told.err
