"""Which plans there are for a face to offer, and copying one of them into the user's own folder."""

from __future__ import annotations

import hashlib
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from tether.body.layers import profile_folders, user_folder
from tether.errors import PlanError, SupplyError, system_reason
from tether.outing.folder import slug

FOLDER = "plans"
Where = Literal["here", "yours", "shipped"]


@dataclass(frozen=True, kw_only=True)
class FoundPlan:
    """A plan that was found: its file, its title, the body file that it names, and where it lies.

    `where` is "here" (the folder that the program was started in), "yours" (the user's own folder), or "shipped".
    """

    path: Path
    title: str
    body: str
    where: Where

    @property
    def key(self) -> str:
        """A name for it that tells nothing of where it lies."""
        return hashlib.sha256(str(self.path.resolve()).encode(errors="surrogateescape")).hexdigest()[:16]


def found_plans(here: Path) -> tuple[FoundPlan, ...]:
    """Return the plans that there are: in a folder, the user's own, and those that come with the program."""
    own, shipped = profile_folders(FOLDER)
    places: tuple[tuple[Path, Where], ...] = ((here, "here"), (own, "yours"), (shipped, "shipped"))
    found: dict[str, FoundPlan] = {}
    for folder, where in places:
        for path in plans_in(folder):
            plan = _found(path, where)
            found.setdefault(plan.key, plan)
    return tuple(found.values())


def copied(plan: FoundPlan, title: str) -> FoundPlan:
    """Copy a plan under another title into the user's own folder, and return the copy.

    Raises
    ------
    PlanError
        If the title is empty, or there is a plan of such a name.
    SupplyError
        If it can't be written.
    """
    if not title.strip():
        raise PlanError("The copy needs a name.")
    path = user_folder(FOLDER) / f"{slug(title)}.toml"
    import tomlkit  # which only a copy needs, and the page's process does without

    document = tomlkit.parse(plan.path.read_text(encoding="utf-8-sig"))
    document["title"] = title.strip()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("x", encoding="utf-8") as file:
            file.write(tomlkit.dumps(document))
    except FileExistsError:
        raise PlanError(f"There is a plan {path.name} of yours already; give the copy another name.") from None
    except OSError as error:
        raise SupplyError(f"{path}: cannot be written: {system_reason(error)}.") from error
    return _found(path, "yours")


def plans_in(folder: Path) -> tuple[Path, ...]:
    """Return the files in a folder that look like plans, by name."""
    return tuple(sorted(one for one in folder.glob("*.toml") if {"body", "lens", "base"} <= _read(one).keys()))


def _read(path: Path) -> dict[str, object]:
    """Return what a file says; nothing where it is no TOML."""
    try:
        return tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError):
        return {}


def _found(path: Path, where: Where) -> FoundPlan:
    data = _read(path)
    body = data["body"]
    file = body.get("file") if isinstance(body, dict) else None
    return FoundPlan(path=path, title=str(data.get("title") or path.stem), body=str(file or "?"), where=where)
