"""A base exposure in the text of a plan: as labels that the plan's scale reads rightly, all else left as it stands."""

from __future__ import annotations

import tomlkit
from tomlkit.exceptions import TOMLKitError

from tether.errors import PlanError
from tether.exposure.labels import parse_aperture, parse_iso, parse_time
from tether.exposure.marks import Mark, Step
from tether.files.safe import safe_write
from tether.plan.file import SCALES, Plan, plan_from_text
from tether.shot.shot import Shot

#: The key of a base that is true of that base alone.
HEADROOM = "headroom_stops"


def base_values(shot: Shot, step: Step, headroom_stops: float | None = None) -> dict[str, str | float]:
    """Return what a plan's [base] is to say: labels where the scale reads them rightly, else the number.

    `headroom_stops` is what was measured beside it [stops]; None: nothing was.
    """
    values: dict[str, str | float] = {}
    for name, mark, parse in (
        ("time", Mark(label=shot.time_label, exact=shot.time_s), parse_time),
        ("aperture", shot.aperture, parse_aperture),
        ("iso", shot.iso, parse_iso),
    ):
        same = abs(parse(mark.label, step).exact / mark.exact - 1) < 1e-6
        values[name] = mark.label if same else f"{mark.exact:.6g}"
    iso = float(values["iso"])
    room = {} if headroom_stops is None else {HEADROOM: round(max(headroom_stops, 0.0), 2)}
    return values | {"iso": int(iso) if iso.is_integer() else iso, "measured": True} | room


def with_base(text: str, shot: Shot, step: Step, headroom_stops: float | None = None) -> str:
    """Return the text of a plan with another base exposure and the headroom measured with it, if it was [stops].

    Raises PlanError where the text is no TOML with a base.
    """
    try:
        document = tomlkit.parse(text)
        table = document["base"]
    except (TOMLKitError, KeyError) as error:
        raise PlanError(f"The plan has no [base] that could be changed: {error}") from error
    if headroom_stops is None:
        table.pop(HEADROOM, None)  # it was another base's
    for name, value in base_values(shot, step, headroom_stops).items():
        table[name] = value
    return tomlkit.dumps(document)


def write_base(shot: Shot, plan: Plan, headroom_stops: float | None = None) -> None:
    """Put a base exposure into the file of a plan, with the headroom measured with it, if it was [stops].

    Raises
    ------
    PlanError, SupplyError, LostError
        If the file was changed meanwhile, or can't be written.
    """
    path = plan.path
    try:
        text = path.read_bytes().decode("utf-8-sig")
        changed = with_base(text, shot, SCALES[plan.top.scale], headroom_stops)
    except (OSError, UnicodeDecodeError, PlanError) as error:
        raise PlanError(f"{path}: this file can't be read any more, so nothing was put into it: {error}") from error
    plan_from_text(changed, path)
    safe_write(path, changed.encode())
