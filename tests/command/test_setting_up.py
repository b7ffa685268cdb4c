"""What a system needs once, printed: data on standard output, what to do with it on standard error."""

from __future__ import annotations

import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tether.command.setting_up import print_completion, print_part
from tether.files.shipped import shipped
from tether.journal.store import JOURNAL_NAME


def test_the_rule_is_printed_as_it_is(capsys: pytest.CaptureFixture[str]) -> None:
    print_part("rule")
    assert capsys.readouterr().out == (shipped("hardware-notes") / "60-tether-camera.rules").read_text()


def test_the_unit_starts_this_interpreter(capsys: pytest.CaptureFixture[str]) -> None:
    print_part("unit")
    assert f"\nExecStart={sys.executable} -P -m tether.service.scheduler\n" in capsys.readouterr().out


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion_is_printed_for_each_shell(shell: str, capsys: pytest.CaptureFixture[str]) -> None:
    print_completion(shell)
    told = capsys.readouterr().out
    assert "_TETHER_COMPLETE" in told
    assert f"{shell}_complete" in told


def test_without_a_part_it_says_what_to_do_and_prints_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    print_part(None)
    told = capsys.readouterr()
    assert told.out == ""
    assert f"{sys.executable} -P -m tether setup rule | sudo tee /etc/udev/rules.d/60-tether-camera.rules" in told.err
    assert str(shipped("hardware-notes")) in told.err


def test_the_manual_is_printed_as_man_reads_it(capsys: pytest.CaptureFixture[str]) -> None:
    print_part("man")
    assert capsys.readouterr().out.startswith(".TH TETHER 1 ")


@pytest.mark.parametrize(
    ("words", "among"),
    [
        (("tether", "ladder", "de"), "demo"),
        (("tether", "log", "eve"), "evening"),
        (("tether", "say", "stop", "n"), "now"),
        (("tether", "measure", "hold", "--body", "canon-eos-r6-"), "canon-eos-r6-mark-ii"),
    ],
)
def test_bash_completes_by_what_is_printed(words: tuple[str, ...], among: str, tmp_path: Path) -> None:
    """In a real shell, which calls the program as Tab does."""
    (tmp_path / "evening").mkdir()
    (tmp_path / "evening" / JOURNAL_NAME).touch()
    program = tmp_path / "tether"
    program.write_text(f'#!/bin/sh\nexec "{sys.executable}" -P -m tether "$@"\n')
    program.chmod(0o700)
    script = (
        f'eval "$(./tether completion bash)"; COMP_WORDS=({shlex.join(words)}); COMP_CWORD={len(words) - 1};'
        ' _tether_completion ./tether; printf "%s\n" "${COMPREPLY[@]}"'
    )
    command = [shutil.which("bash") or "/bin/bash", "-c", script]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, timeout=60, check=True)
    assert done.stdout.splitlines() == [among], done.stderr
