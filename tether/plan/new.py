"""Write a new plan file, commented, from a few answers."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from tether.light.spot import Spot

if TYPE_CHECKING:
    from tether.exposure.strengths import Strength


@dataclass(frozen=True, kw_only=True)
class NewFilter:
    """A filter on hand as a person names it: its name, its strength, and whether that was measured."""

    name: str
    strength: Strength
    measured: bool = False

    @property
    def said(self) -> str:
        """What is said back: ``Calder 6: 6 stops``."""
        return f"{self.name}: {self.strength.said}{', as measured' if self.measured else ''}"


@dataclass(frozen=True, kw_only=True)
class Answers:
    """What a new plan is made from; labels as people write them."""

    title: str = "Moving water"
    body: str = "simulated"
    focal_mm: float = 24.0
    widest: str = "f/2.8"
    narrowest: str = "f/22"
    base_time: str = "1/125"
    base_aperture: str = "f/8"
    base_iso: str = "100"
    shortest: str = "1/500"
    longest: str = "4m"
    filters: Sequence[NewFilter] = ()
    spot: Spot | None = None


def _text(value: str) -> str:
    """Write a text as TOML does; a JSON text is one."""
    return json.dumps(value, ensure_ascii=False)


_FILTER = """
[[filter]]
name = {name}
{strength:<38} # exactly one of stops, factor, density
"""
_UNMEASURED = """\
{example:<38} # once it is measured; until then a frame through it has to show it
"""
_ALWAYS_ON = """\
kind = "always on"                     # it stays on the lens for the whole ladder
"""
_PLAN = """\
# A plan: one composition, one ladder. See it with:  tether ladder FILE --why
# Times are written 1/125, 0.5, 30, 2m or 2:08; apertures f/11. A remark ends each key that may be left out.

title = {title}
# darker_by = "what is unmeasured"     # or "nothing", "a third for long water" (your taste), or a number of stops

[place]
water = "river"                        # "river", "weir", "coast" or "lake": for the cautions
{spot}
[body]
file = {body}                          # a body file by name, or a path to one

[lens]
focal_mm = {focal_mm:g}
widest = {widest}
narrowest = {narrowest}

[base]                                 # metered, unclipped: every rung gives the same light
time = {base_time}
aperture = {base_aperture}
iso = {base_iso}
# frames = 2                           # taken first; later frames are read against them; 0: none

[rungs]                                # a stop between 1/15 and 4 s, two elsewhere; three frames from 1/8 to 2 s
from = {shortest}
to = {longest}
# times = ["1/8", "1"]                 # single times, alone or in addition
# taken = "at once"                    # or "on my key", "each wave" (as many as you press, until “next”), "burst"

[limits]                               # what is left out, lens and body bound; what is written is kept to
# aperture = ["f/5.6", "f/11"]
# iso = [100, 400]
# longest = "8m"
# depth_m = [2.5, 60.0]                # depth of field wanted, in metres; left out: the base's own counts

# [costs]                              # ways are counted in stops of light lost at the detail that matters
# touch_stops = 0.6                    # what putting a filter on or taking it off costs beside that
# print_width_cm = 21                  # the detail of a print so wide counts
{filters}
[readings]                             # what is done about what the raw frames say
# correct = "take"                     # rungs follow light and filters, asking from 2/3 stop on; "say": proposed; "off"
# again = "say"                        # or "take": a frame that is shifted, soft or clipped is taken again

# [tide]                               # at the coast: times as you read them in the table of the place
# low = "12:40"
# high = "18:52"
# last_safe_exit = "17:30"             # the ladder is over by then, or by leave_by if that is earlier

[run]
# leave_by = "18:40"                   # no rung is started that would end later
settle_s = 5.0                         # after the tripod was touched
# dark_frames = "offer"                # after the last frame, cap on; or "at the end", "by the body", "none"
# sidecars = true                      # at the end, an XMP file beside each raw file, for other programs
# learned = false                      # what earlier outings tell of how long things take is left out of the forecast
# average = "after the run"            # many frames that stand for a long one become one; or "between rungs", "no"
# copy_to = "/media/you/second-disk"   # each raw file is copied there during the run, too, read back and compared
"""


def new_plan(answers: Answers) -> str:
    """Return the text of a new plan file.

    Raises
    ------
    PlanError
        If what comes of the answers is not a plan; a sentence for every mistake.
    """
    written = {name: _text(value) if isinstance(value, str) else value for name, value in vars(answers).items()}
    filters = "".join(_filter(one) for one in answers.filters)
    text = _PLAN.format_map(written | {"filters": filters, "spot": _spot(answers.spot)})
    from tether.plan.file import plan_from_text  # so that the defaults are known without it

    plan_from_text(text)
    return text


def _filter(one: NewFilter) -> str:
    """Write a filter in the way its strength was said."""
    strength = one.strength
    text = _FILTER.format(name=_text(one.name), strength=f"{strength.way} = {strength.number:.12g}")
    if strength.kind == "always on":
        return text + _ALWAYS_ON
    return text + _UNMEASURED.format(example=f"# measured_stops = {strength.stops:.4g}")


def _spot(spot: Spot | None) -> str:
    """Write the keys of a place on the earth, as an example behind a # where none is given."""
    off, known = ("# ", Spot(latitude=64.1, longitude=-21.9)) if spot is None else ("", spot)
    latitude, longitude = f"{off}latitude = {known.latitude!r}", f"{off}longitude = {known.longitude!r}"
    return (
        f"{latitude:<38} # degrees, south negative; with longitude: for the sun, as in tether light\n"
        f"{longitude:<38} # degrees, west negative\n"
    )
