"""Which plan is meant: a file before all else, the user's own by its name, then one that comes with the program."""

from __future__ import annotations

from pathlib import Path

import pytest

from tether.body.layers import user_folder
from tether.command.plans import plan_named
from tether.files.shipped import shipped


def test_a_plan_that_comes_with_the_program_is_found_by_its_name() -> None:
    assert plan_named(Path("demo")) == shipped("profiles") / "plans" / "demo.toml"


def test_the_users_own_comes_before_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    own = user_folder("plans") / "demo.toml"
    own.parent.mkdir(parents=True)
    own.write_text("")
    assert plan_named(Path("demo")) == own


def test_a_file_or_folder_comes_before_both(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("demo").mkdir()
    assert plan_named(Path("demo")) == Path("demo")


@pytest.mark.parametrize("given", ["nothing", "demo.toml", "plans/demo", "/demo", "../demo"])
def test_what_is_no_name_of_one_stays_as_it_is(given: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert plan_named(Path(given)) == Path(given)
