"""What the package says of itself: known classifiers, in order, and nothing that the program does not keep to."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

from trove_classifiers import classifiers as known

from tether import __version__

ROOT = Path(__file__).parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]


def test_it_says_what_it_is_for_whom_and_under_what_licence() -> None:
    assert all(PROJECT[key] for key in ("name", "description", "readme", "authors", "keywords", "license"))
    assert PROJECT["version"] == __version__
    assert (ROOT / PROJECT["readme"]).is_file()
    assert all((ROOT / name).is_file() for name in PROJECT["license-files"])
    assert len(PROJECT["description"]) <= 200


def test_its_classifiers_are_known_once_each_and_in_order() -> None:
    assert set(PROJECT["classifiers"]) <= known
    assert len(set(PROJECT["classifiers"])) == len(PROJECT["classifiers"])
    assert PROJECT["keywords"] == sorted(set(PROJECT["keywords"]))


def test_the_pythons_that_it_names_begin_with_the_oldest_that_it_runs_on() -> None:
    minors = [int(found) for found in re.findall(r"Python :: 3\.(\d+)", " ".join(PROJECT["classifiers"]))]
    assert minors == list(range(minors[0], minors[-1] + 1))
    assert PROJECT["requires-python"] == f">=3.{minors[0]}"
