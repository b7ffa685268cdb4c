"""A ladder made ready for a body like the simulated one but real, and what the checks find of it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from tests.engine.rig import BASE, SIX, TEN
from tests.plan.plans import HEAD
from tether.body.bodyfile import load_body_file
from tether.body.protocol import Finding, Identity, Offers, Status
from tether.checks.checks import BodySeen, findings
from tether.outing.prepare import Prepared, prepare
from tether.plan.file import plan_from_text

RUNGS = '[rungs]\ntimes = ["1/4000", "1/125", "1/8", "1", "2m"]\nframes = 2\norder = "short first"\n'


LADDER = BASE + RUNGS + "[limits]\niso = [100, 6400]\n" + SIX + TEN


REAL = Identity(model="Body A", serial="S1", firmware="1.2", lens="35 mm", simulated=False)


def ready_of(text: str = LADDER, **body: object) -> Prepared:
    """Make a plan ready for a body that is like the simulated one but real, with what is given changed."""
    ready = prepare(plan_from_text(HEAD + text))
    changed = {"simulated": False, "name": "Body A", **body}
    file = load_body_file("simulated").model_copy(update=changed)
    real = replace(ready.abilities, simulated=False)
    return replace(ready, body_file=file, abilities=real, ladder=replace(ready.ladder, simulated=False))


def offers_of(ready: Prepared, **changed: object) -> Offers:
    abilities = ready.abilities
    lists = {name: tuple(mark.label for mark in getattr(abilities, name)) for name in ("times", "apertures", "isos")}
    return Offers(**{**lists, "held_by": "bulb", "why_not_held": None, **changed})  # type: ignore[arg-type]


def found(
    ready: Prepared, folder: Path, *, looked: tuple[Finding, ...] = (), status: Status | None = None, **offers: object
) -> dict[str, Finding]:
    """Return every finding by its name."""
    told = status or Status(battery=0.8, card_frames_left=500, temperature_c=None, busy=False)
    seen = BodySeen(identity=REAL, looked=looked, offers=offers_of(ready, **offers), status=told)
    return {one.what: one for one in findings(ready, seen, folder)}
