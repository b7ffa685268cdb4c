"""The checks before a run: everything is looked at before anything is exposed, and said with what to do about it.

A check comes to ok, to a note, or to a stop. A stop ends the run before it has begun, unless the person said by the
check's name, and with a reason, to go on despite it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path
from queue import SimpleQueue
from typing import Protocol, TypeVar

from tether.body.bodyfile import BodyFile
from tether.body.connection import Connection
from tether.body.protocol import NOT_TOLD, Camera, Finding, Identity, Offers, Status
from tether.checks import host as machine
from tether.checks import ladder as needs
from tether.checks.findings import note, ok, stop
from tether.checks.host_clocks import WallClock
from tether.checks.sleep import kept_awake
from tether.clock import AffineClock, Clock, to_ns
from tether.errors import BusyError, CameraError, PlanError, TetherError
from tether.journal.records import Mentioned, Noted
from tether.outing.camera import opened_camera
from tether.outing.folder import Folder, passing_folder
from tether.outing.prepare import Prepared
from tether.outing.world import world_of
from tether.shot.shot import Shot

T = TypeVar("T")

#: Checks without which nothing can be begun.
NEEDED = ("connection", "camera")

#: Waits before a body that is busy is looked at again [s].
BUSY_WAITS_S = (0.5, 1.0, 2.0, 4.0)
#: The checks that every run has, and what each looks at, in words for people; those of the body file come on top.
ALWAYS = {
    "camera": "camera",
    "tried": "whether the body was tried",
    "body file": "body file",
    "camera's clock": "camera's clock",
    "times": "exposure times",
    "apertures": "apertures",
    "ISO": "ISO",
    "holding": "bulb",
    "shake": "shake by the shutter",
    "finder": "viewfinder",
    "room on the card": "room on the card",
    "battery": "battery",
    "disk": "room on the disk",
    "second copy": "second copy",
    "variables": "surroundings of the camera library",
    "connection": "cable",
    "power": "the computer's power",
    "real time": "exact open times",
    "sleep": "kept awake",
    "clock": "the computer's clock",
}


@dataclass(frozen=True, kw_only=True)
class BodySeen:
    """What a camera said when it was looked at."""

    identity: Identity
    looked: tuple[Finding, ...]
    offers: Offers
    status: Status


def see(camera: Camera, clock: Clock) -> BodySeen:
    """Look at a camera; one that is busy is waited for. Raises TetherError where it does not answer."""

    def patiently(ask: Callable[[], T]) -> T:
        for wait_s in BUSY_WAITS_S:
            try:
                return ask()
            except BusyError:
                clock.wait_until(clock.now_ns() + to_ns(wait_s))
        return ask()

    return BodySeen(
        identity=patiently(camera.identify),
        looked=patiently(camera.look),
        offers=patiently(camera.offers),
        status=patiently(camera.status),
    )


def findings(ready: Prepared, seen: BodySeen, outing: Path) -> tuple[Finding, ...]:
    """Return what every check of the camera, the ladder and the outing's disk comes to.

    Parameters
    ----------
    ready
        The plan, its body file and its ladder.
    seen
        What the camera said.
    outing
        The folder that the frames go to; it need not be there yet.
    """
    ladder, shots = ready.ladder, needs.shots_of(ready.ladder)
    return (
        _camera(seen.identity),
        _tried(ready.body_file, simulated=seen.identity.simulated),
        *_looked(seen.looked, ready, shots),
        needs.times(shots, seen.offers),
        needs.apertures(shots, seen.offers),
        needs.isos(shots, seen.offers),
        needs.holding(shots, seen.offers),
        needs.shake(shots, ready.body_file),
        needs.finder(shots, ready.abilities),
        needs.card(ladder, seen.status),
        needs.battery(ladder, seen.status, ready.body_file),
        machine.disk(machine.disk_at(outing), len(ladder.exposures), ready.abilities.frame_bytes),
        *_second_copy(ready, outing, simulated=seen.identity.simulated),
    )


def _second_copy(ready: Prepared, outing: Path, *, simulated: bool) -> Iterator[Finding]:
    """Look at the folder that the second copy goes to, where one is wanted; a rehearsal is not stopped by it."""
    under = ready.plan.run.copy_to
    if under is None:
        return
    found = machine.second_disk(under, outing, len(ready.ladder.exposures), ready.abilities.frame_bytes)
    yield replace(found, verdict="note") if simulated and found.verdict == "stop" else found


def _looked(looked: Sequence[Finding], ready: Prepared, shots: Sequence[Shot]) -> Iterator[Finding]:
    """Give what the camera was looked at for; what it does not tell of is put together, for the person to see to."""
    untold: list[Finding] = []
    for one in looked:
        if one.sentence.startswith(NOT_TOLD):
            untold.append(one)
        else:
            yield needs.dark_frames(one, ready.plan, shots) if one.what == needs.DARK_FRAME else one
    if untold:
        names = ", ".join(one.what for one in untold)
        remedies = " ".join(one.sentence.removeprefix(NOT_TOLD).strip() for one in untold)
        yield note("not told", f"The camera does not tell of {names}. Check it yourself: {remedies}")


def _camera(identity: Identity) -> Finding:
    firmware = f"firmware {identity.firmware}" if identity.firmware else ""
    who = ", ".join(part for part in (identity.model, identity.lens, firmware) if part)
    if identity.simulated:
        return note("camera", f"SIMULATED, no camera: {who}.")
    return ok("camera", f"{who}.")


def _tried(body_file: BodyFile, *, simulated: bool) -> Finding:
    if simulated:
        return ok("tried", "A simulated body says nothing about a camera.")
    if body_file.tried:
        return ok("tried", f"{body_file.name}: {body_file.tried}.")
    return note("tried", f"{body_file.name}: not tried on hardware. Try it at home first: tether body try")


# Going on despite a stop


def names_of(body_file: BodyFile) -> tuple[str, ...]:
    """Return the names of all checks there are for a body."""
    looks = body_file.driver.look if body_file.driver else {}
    return tuple(dict.fromkeys((*ALWAYS, *looks)))


def parse_despite(texts: Iterable[str], names: Sequence[str]) -> dict[str, str]:
    """Read what the person goes on despite: texts as ``focus=the lens has no switch``.

    Raises
    ------
    PlanError
        For a name that is none, or without a reason; with the names there are.
    """
    despite: dict[str, str] = {}
    for text in texts:
        name, _, reason = (part.strip() for part in text.partition("="))
        known = next((one for one in names if one.casefold() == name.casefold()), None)
        if known is None:
            raise PlanError(f'--despite "{text}": there is no such check; there are: {", ".join(names)}.')
        if not reason:
            raise PlanError(f'--despite "{text}": say why, for the log: --despite "{known}=your reason"')
        despite[known] = reason
    return despite


def weighed(found: Sequence[Finding], despite: Mapping[str, str], *, begun: bool) -> tuple[Finding, ...]:
    """Return findings as they weigh for this run.

    Parameters
    ----------
    found
        What was found.
    despite
        Checks that are not to stop the run, each with the reason.
    begun
        Whether the ladder was begun before: nothing stops it then.
    """
    return tuple(_weighed(one, despite.get(one.what), begun=begun) for one in found)


def _weighed(one: Finding, reason: str | None, *, begun: bool) -> Finding:
    if one.verdict != "stop" or not (reason or begun):
        return one
    why = f"Overridden: {reason.rstrip('.')}." if reason else "The ladder is resumed."
    return replace(one, verdict="note", sentence=f"{one.sentence} {why}")


def stops_of(found: Iterable[Finding], again: str) -> CameraError | None:
    """Return the error that the stops among findings come to; None where there are none.

    `again` is the command that begins once more.
    """
    stops = [one for one in found if one.verdict == "stop"]
    if not stops:
        return None
    said = [f"{one.what}: {one.sentence}" for one in stops]
    mend = ("Not begun; nothing was exposed.", *said, f"Correct this, then: {again}")
    if any(one.what in NEEDED for one in stops):
        return CameraError(*mend)
    despite = " ".join(f'--despite "{one.what}=REASON"' for one in stops)
    return CameraError(*mend, f"Or override it, with a reason for the log: {again} {despite}")


# Without a run


def look_over(ready: Prepared, reach: Connection, outing: Path) -> tuple[Finding, ...]:
    """Open the camera, do every check there is, and leave it as it was found.

    Parameters
    ----------
    ready, reach
        What is to be run, and how its body is reached.
    outing
        The folder that the frames would go to; it need not be there.
    """
    connection = machine.connection(reach.port) if reach.way == "camera" else ()
    if not any(one.verdict == "stop" for one in connection):
        connection = (*connection, *_opened_and_seen(ready, reach, outing))
    with kept_awake("a camera is checked") as inhibition:
        awake = machine.awake(inhibition)
    clock = machine.wall_clock(WallClock.now())
    return (*connection, machine.variables(), *machine.power(), machine.real_time(), awake, clock)


def _opened_and_seen(ready: Prepared, reach: Connection, outing: Path) -> tuple[Finding, ...]:
    clock = AffineClock.started_now(1.0)
    try:
        with ExitStack() as stack:
            folder = stack.enter_context(passing_folder(""))
            world = world_of(ready.plan)
            camera = stack.enter_context(opened_camera(reach, ready, world, folder, clock, SimpleQueue()))
            found = findings(ready, see(camera, clock), outing)
            left = [note("camera", sentence) for sentence in camera.put_back()]
            return (*found, *left)
    except TetherError as error:
        return (stop("camera", str(error)),)


# In a run


class Checked(Protocol):
    """What of a run the checks need: its open camera, its clock, its folder, and where they write and say."""

    @property
    def camera(self) -> Camera: ...
    @property
    def clock(self) -> Clock: ...
    @property
    def folder(self) -> Folder: ...

    def tell(self, record: Noted | Mentioned) -> None:
        """Tell a record."""


def check(
    run: Checked,
    ready: Prepared,
    others: Iterable[Finding] = (),
    *,
    despite: Mapping[str, str],
    begun: bool,
    again: str,
) -> None:
    """Do the checks of a run that is about to begin its ladder; all are written down, what is not in order is said.

    Parameters
    ----------
    run
        The run; its camera is open.
    ready
        What it was made from.
    others
        What was found already, of the machine.
    despite, begun
        As for :func:`weighed`.
    again
        The command that begins once more.

    Raises
    ------
    CameraError
        With a sentence for every stop that is left.
    """
    found = weighed((*_seen(run, ready), machine.variables(), *others), despite, begun=begun)
    for one in found:
        run.tell(Noted(about="check", text=one.sentence, what=one.what, verdict=one.verdict))
    run.tell(Mentioned(about="note", text=in_order([one.what for one in found if one.verdict == "ok"])))
    for one in found:
        if one.verdict == "note":  # what stops is told by the error
            run.tell(Mentioned(about="note", text=f"{one.what}: {one.sentence}"))
    if stopped := stops_of(found, again):
        raise stopped


def in_order(names: Sequence[str]) -> str:
    """Say what is in order, by what was looked at."""
    return f"Checked and fine: {', '.join(ALWAYS.get(one, one) for one in names)}."


def _seen(run: Checked, ready: Prepared) -> tuple[Finding, ...]:
    try:
        return findings(ready, see(run.camera, run.clock), run.folder.path)
    except TetherError as error:
        return (stop("camera", f"It could not be checked. {error}"),)
