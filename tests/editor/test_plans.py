"""Which plans there are, and copying one."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.editor.rig import TEXT
from tether.body.layers import user_folder
from tether.editor.plans import copied, found_plans
from tether.errors import PlanError
from tether.plan.file import read_plan


@pytest.fixture(autouse=True)
def _own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))


@pytest.fixture
def here(tmp_path: Path) -> Path:
    folder = tmp_path / "here"
    folder.mkdir()
    (folder / "gorge.toml").write_text(TEXT)
    (folder / "pyproject.toml").write_text('[project]\nname = "no plan"\n')
    return folder


def test_plans_are_found_here_among_the_users_own_and_those_that_come_with_the_program(here: Path) -> None:
    user_folder("plans").mkdir(parents=True)
    (user_folder("plans") / "fall.toml").write_text(TEXT.replace("A test", "The fall"))
    found = [(one.path.name, one.title, one.where) for one in found_plans(here)]
    assert found[:2] == [("gorge.toml", "A test", "here"), ("fall.toml", "The fall", "yours")]
    assert ("demo.toml", "Weir at evening", "shipped") in found
    assert all(where == "shipped" for _, _, where in found[2:])
    assert "pyproject.toml" not in [name for name, _, _ in found]


def test_a_plan_that_is_found_twice_stands_once_and_its_key_tells_nothing_of_where_it_lies(here: Path) -> None:
    user_folder("plans").parent.mkdir(parents=True)
    user_folder("plans").symlink_to(here)
    keys = [one.key for one in found_plans(here)]
    assert len(keys) == len(set(keys))
    assert [one.where for one in found_plans(here) if one.path.name == "gorge.toml"] == ["here"]
    assert not any("weir" in key or "/" in key for key in keys)


def test_a_copy_has_its_own_title_and_says_all_else_as_before(here: Path) -> None:
    (plan,) = (one for one in found_plans(here) if one.where == "here")
    copy = copied(plan, "Autumn at the weir")
    assert copy.path == user_folder("plans") / "autumn-at-the-weir.toml"
    assert read_plan(copy.path).top.title == "Autumn at the weir"
    assert copy.path.read_text().replace("Autumn at the weir", "A test") == TEXT
    assert copy.key in [one.key for one in found_plans(here)]


@pytest.mark.parametrize(("title", "sentence"), [("  ", "needs a name"), ("Autumn", "another name")])
def test_a_copy_needs_a_name_that_is_not_taken(here: Path, title: str, sentence: str) -> None:
    (plan,) = (one for one in found_plans(here) if one.where == "here")
    copied(plan, "Autumn")
    with pytest.raises(PlanError, match=sentence):
        copied(plan, title)
