"""The end of an outing: what it does is told as it is done, and what is missing makes the command fail."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from tests.journal.shown import exposed
from tests.schemas import valid
from tether.body.protocol import Finding, Verdict
from tether.command import ending
from tether.command.ending import finish_outing
from tether.journal.records import Record, StateChanged


@pytest.mark.parametrize(("verdicts", "code"), [(("ok", "ok"), 0), (("ok", "note"), 0), (("stop", "ok"), 1), ((), 0)])
def test_what_is_missing_makes_it_fail_and_what_is_worth_knowing_does_not(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], verdicts: Any, code: int
) -> None:
    asked: list[dict[str, Any]] = []

    def finish(ended: Any, *, show: Callable[[Record], None], **how: Any) -> tuple[Finding, ...]:
        asked.append({"outing": ended.outing, **how})
        show(exposed(1))
        show(StateChanged(before="ready", state="fetching", at_ns=1))
        return tuple(finding(verdict) for verdict in verdicts)

    monkeypatch.setattr(ending, "finish", finish)
    monkeypatch.setattr(ending, "read_ended", lambda outing: SimpleNamespace(outing=outing))
    outing = tmp_path / "outing"
    with pytest.raises(SystemExit) as ended:
        finish_outing(outing, True, tmp_path / "copy", "usb:001,004", as_json=False)
    assert ended.value.code == code
    assert asked == [{"outing": outing, "fetch": True, "copy_to": tmp_path / "copy", "port": "usb:001,004"}]
    said = capsys.readouterr()
    assert said.err.splitlines() == ["  Frame 1: made"], "one line for what is worth one"
    assert said.out.count("A sentence.") == len(verdicts)


@pytest.mark.parametrize(("verdicts", "missing"), [((), False), (("ok", "note"), False), (("ok", "stop"), True)])
def test_as_json_it_is_the_same_and_nothing_else(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    verdicts: tuple[Verdict, ...],
    missing: bool,
) -> None:
    monkeypatch.setattr(ending, "finish", lambda *_, **_how: tuple(map(finding, verdicts)))
    monkeypatch.setattr(ending, "read_ended", lambda outing: SimpleNamespace(outing=outing))
    with pytest.raises(SystemExit) as ended:
        finish_outing(tmp_path, False, None, "", as_json=True)
    told = valid("finish", capsys.readouterr().out)
    assert (told["missing"], ended.value.code) == (missing, int(missing))
    assert [one["verdict"] for one in told["found"]] == list(verdicts)


def finding(verdict: Verdict) -> Finding:
    return Finding(what="card", verdict=verdict, sentence="A sentence.")
