"""``tether body``: what is connected, what is known of a body, whether it stands as a plan needs it, a trial of it."""

from __future__ import annotations

import json
import queue
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

import click
from rich.console import Console

from tether.body.bodyfile import BodyFile, checked, load_body_file
from tether.body.connected import Connected, connected, fitting, is_of_one_body, none_found, the_one
from tether.body.connection import Connection, opened_body, recording_in, wire_name
from tether.body.dialects import MODELS, Dialect
from tether.body.driver.known import kept
from tether.body.driver.recording import read_recording
from tether.body.driver.session import library_version
from tether.body.layers import known_names, read_layers
from tether.body.network import full_port, is_on_network, model_at
from tether.body.ownfile import draft, is_path, name_of, own_path, write_new
from tether.body.protocol import Finding, Order
from tether.body.simulated.world import World
from tether.capture.session import CameraClient, put_back_after
from tether.capture.trial import HOLDS_S, SIMULATED_LENS, Trying, abilities_to_try
from tether.capture.trial_agreement import compared, read_report, tried_line
from tether.capture.trial_file import report_file
from tether.capture.trial_report import About, report_of, trial_json
from tether.capture.trial_result import FrameTried, Trial, write_down
from tether.checks import host as machine
from tether.checks.checks import look_over, names_of, parse_despite, stops_of, weighed
from tether.checks.ladder import shots_of
from tether.clock import AffineClock
from tether.command.common import echo, out, print_json, say, show, talk
from tether.command.options import FIRST_DIALECT
from tether.control.commands import Item
from tether.errors import CameraError, PlanError
from tether.files.safe import safe_write
from tether.outing.camera import reach_of_run
from tether.outing.folder import Folder, passing_folder
from tether.outing.prepare import Prepared, prepare
from tether.report.bodies_view import ConnectedView, LayeredView, cameras_json, layered_json, names_json
from tether.report.checks_view import AGAINST, ChecksView, agreement_json, checks_json
from tether.wording import measured_time, planned_time, way

#: So many values that were not taken are named on the screen; the report has more.
_MOST_SAID = 8


def list_connected(as_json: bool) -> None:
    """Show what is connected, and which body file fits."""
    cameras = [(one, fitting(one.model)) for one in connected()]
    if as_json:
        print_json(cameras_json(cameras))
    elif cameras:
        out().print(ConnectedView(cameras))
    if not cameras:
        talk().print(none_found())
        sys.exit(CameraError.exit_code)


def show_body_file(name: str | None, as_json: bool) -> None:
    """Show a body file as it is in force, or the names of all."""
    if name is None:
        if as_json:
            print_json(names_json(known_names()))
        else:
            echo("\n".join(known_names()))
        return
    layered = read_layers(name)
    checked(layered)
    show(layered_json(layered), LayeredView(layered), as_json=as_json)


def check_for(plan: Path, under: Path, port: str, model: str, as_json: bool) -> None:
    """Look whether all stands as a plan needs it."""
    ready = prepare(plan)
    found = look_over(ready, reach_of_run(ready, port, model), under)
    show(checks_json(found, str(plan)), ChecksView(found), as_json=as_json)
    stops = sum(one.verdict == "stop" for one in found)
    if stops:
        talk().print(f"{'One thing stops' if stops == 1 else f'{stops} things stop'} a run of {plan}.")
        sys.exit(CameraError.exit_code)


def write_draft(file: Path, family: str | None, port: str, model: str) -> None:
    """Write a body file for the camera that is there."""
    if file.suffix != ".toml":
        raise PlanError(f"{file}: a body file's name ends in .toml.")
    camera = _meant(port, model, load_body_file(family) if family else None)
    family = family or _best(camera)
    with passing_folder("draft") as folder, _opened(_reach(camera), load_body_file(family), folder) as trying:
        offers = trying.seen.offers
        if not offers.times:
            raise CameraError(_no_times(camera, trying.seen.looked, file))
    day, library = f"{datetime.now().astimezone():%Y-%m-%d}", library_version()
    write_new(file, draft(camera.model, family, offers, name=str(file), day=day, library=library))
    load_body_file(str(file))
    say(f"{file} is written. See what is in force with it:  tether body show {file}")


def _meant(port: str, model: str, file: BodyFile | None) -> Connected:
    """Return the camera that is meant: one that is connected, or one on a network, which is not looked for."""
    if named := model_at(port, model, file):
        return Connected(model=named, port=full_port(port), hindrance=None)
    return the_one(connected(), port)


def _reach(camera: Connected) -> Connection:
    return Connection(way="camera", port=camera.port, model=camera.model if is_on_network(camera.port) else "")


def _no_times(camera: Connected, looked: Sequence[Finding], file: Path) -> str:
    """Say that a body offers no times, and what to set so that it does."""
    dial = [one.sentence for one in looked if one.what == "mode dial" and one.verdict == "stop"]
    said = " ".join(dial) or "Turn its mode dial to M."
    return (
        f"{camera.model} offers no times with its present settings, so there is nothing to draft from; nothing was"
        f" written. Its mode dial: {said} Then: tether body draft {file}"
    )


def _best(camera: Connected) -> str:
    files = fitting(camera.model)
    if not files:
        known = ", ".join(known_names())
        raise PlanError(f"No body file fits {camera.model}; name its family's with --family. Known are {known}.")
    return files[0]


@contextmanager
def _opened(reach: Connection, file: BodyFile, folder: Folder) -> Iterator[Trying]:
    """Open a camera to try it, from a folder; it is set back as it was found, however the block ends."""
    box: queue.SimpleQueue[Item] = queue.SimpleQueue()
    clock = AffineClock.started_now(1.0)
    # A simulated camera on the wire has to be told what it can do; a real one is asked.
    abilities = file.abilities(*SIMULATED_LENS) if reach.way == "wire" else abilities_to_try(file)
    with opened_body(reach, abilities, file, World(), folder, clock, box) as camera:
        client = CameraClient(camera, clock, box)
        with put_back_after(client):
            yield Trying(client)


@dataclass(frozen=True, kw_only=True)
class _Target:
    """The body that is tried.

    `file_name` is the body file it is spoken to by, `own_name` the user's own one that the result goes into: the same,
    unless only its family's fits. `model` is what the camera library calls it.
    """

    reach: Connection
    file_name: str
    own_name: str
    model: str


def _target(port: str, model: str, dialect: Dialect | None, ready: Prepared | None) -> _Target:
    if dialect:
        name = wire_name(dialect)
        reach = Connection(way="wire", dialect=dialect)
        return _Target(reach=reach, file_name=name, own_name=name, model=MODELS[dialect])
    if not_real := machine.spoilt():
        raise PlanError(f"{not_real} is set, so that the camera library has a camera that is none: unset it.")
    planned = ready if ready and not ready.abilities.simulated else None
    camera = _meant(port, model, planned.body_file if planned else None)
    name = planned.plan.body.file if planned else _best(camera)
    own = name if is_path(name) or is_of_one_body(load_body_file(name), camera.model) else name_of(camera.model)
    return _Target(
        reach=_reach(camera), file_name=own if own_path(own).exists() else name, own_name=own, model=camera.model
    )


def try_body(
    port: str,
    model: str,
    needs: Path | None,
    quick: bool,
    yes: bool,
    simulated: bool,
    dialect: Dialect | None,
    report: Path | None,
    serial: bool,
    despite: tuple[str, ...],
    as_json: bool,
) -> None:
    """Try one's own body, write a report, and write down what was measured."""
    if not (yes or sys.stdin.isatty()):
        raise PlanError("tether body try: nobody can be asked here before it exposes; say --yes if it may.")
    ready = prepare(needs) if needs else None
    target = _target(port, model, dialect or (FIRST_DIALECT if simulated else None), ready)
    file = load_body_file(target.file_name)
    reasons = parse_despite(despite, names_of(file))
    began = datetime.now().astimezone()
    path = report or Path(f"trial-{name_of(target.model)}-{began:%Y-%m-%d-%H%M}.json")
    whole, words = (_free(path.with_suffix(suffix)) for suffix in (".json", ".md"))
    with passing_folder("trial") as folder:
        with _opened(target.reach.model_copy(update={"recorded": True}), file, folder) as trying:
            looked = _look(trying, reasons, talk() if as_json else out())
            trial = replace(_tried(trying, ready, HOLDS_S[:-1] if quick else HOLDS_S, yes=yes), looked=looked)
        recorded, known = read_recording(recording_in(folder.camera)), kept(folder.camera)
    reason = f"what {needs} needs" if needs else "the whole list"
    about = About(when=began, library=library_version(), body_file=target.file_name, reason=reason, serial=serial)
    safe_write(words, report_of(trial, about).encode())
    safe_write(whole, report_file(trial, about, recorded, known).encode())
    own = write_down(
        trial,
        own_name=target.own_name,
        file_name=target.file_name,
        model=target.model,
        day=f"{began:%Y-%m-%d}",
        library=about.library,
    )
    if as_json:
        print_json(trial_json(trial, about, report=str(whole), own_file=str(own)))
    say(f"The report is {whole}, for others, with names and serial numbers masked; {words} has it in words.")
    say(f"What was measured is in {own}.")
    if target.own_name != target.file_name:
        say(f'Name it in your plans: body.file = "{target.own_name}"')
    sys.exit(0 if trial.good else 1)


def compare_report(report: Path, name: str | None, as_json: bool) -> None:
    """Hold a report against a body file, and say what the file may say of itself after it."""
    told = read_report(report)
    model = told["trial"]["model"] or ""
    known = name or next(iter(fitting(model)), None)
    if known is None:
        raise PlanError(f"No body file fits {model or 'a camera without a name'}; name one behind the report.")
    found = compared(told, load_body_file(known))
    line = tried_line(told, found)
    show(agreement_json(found, str(report), known, line), ChecksView(found, AGAINST), as_json=as_json)
    if line:
        say(f"{known} may say of itself:", f"  tried = {json.dumps(line, ensure_ascii=False)}")
    else:
        say(f"After this report {known} stays “not tried on hardware”{_why_not(told, found)}.")
    sys.exit(1 if any(one.verdict == "stop" for one in found) else 0)


def _why_not(report: Mapping[str, Any], found: Sequence[Finding]) -> str:
    if report["trial"]["simulated"]:
        return ": the camera was simulated"
    return ": something differs" if any(one.verdict == "stop" for one in found) else ": no frame was made"


def _tried(trying: Trying, ready: Prepared | None, holds_s: Sequence[float], *, yes: bool) -> Trial:
    said = talk()
    wanted = [shot.settings for shot in shots_of(ready.ladder)] if ready else trying.whole_list()
    said.print(f"Setting and reading back {len(wanted)} settings …")
    settings = trying.set_all(wanted)
    said.print(f"{settings.count} were taken, {len(settings.otherwise)} were not as asked.")
    for sentence in settings.otherwise[:_MOST_SAID]:
        said.print(f"  {sentence}")
    if not trying.seen.offers.held_by:
        said.print(f"No bulb exposure is tried: {trying.seen.offers.why_not_held}")
    orders = trying.orders(holds_s)
    _ask(orders, yes=yes)
    frames = []
    for order in orders:
        said.print(f"Exposing, {way(order.way)}, {planned_time(order.command_s)} …")
        frame = trying.make(order)
        said.print(f"  {frame.problem or _in_words(frame)}")
        frames.append(frame)
    return trying.end(settings, frames)


def _look(trying: Trying, despite: Mapping[str, str], page: Console) -> tuple[Finding, ...]:
    """Show how the camera stands, and return it. Raises CameraError where that stops a trial."""
    found = weighed(trying.seen.looked, despite, begun=False)
    page.print(ChecksView(found))
    if stopped := stops_of(found, "tether body try"):
        raise stopped
    return found


def _ask(orders: Sequence[Order], *, yes: bool) -> None:
    """Have the person say so before anything is exposed. Raises PlanError where they do not."""
    frames = ", ".join(f"{planned_time(order.command_s)} {way(order.way)}" for order in orders)
    talk().print(f"Now {'one frame is' if len(orders) == 1 else f'{len(orders)} frames are'} exposed: {frames}.")
    if not yes and not click.confirm("May it", err=True):
        raise PlanError("Nothing was exposed, and nothing is written down.")


def _in_words(frame: FrameTried) -> str:
    held = f"bulb {measured_time(frame.held_s)}, " if frame.held_s is not None else ""
    return (
        f"{held}Exif {measured_time(frame.exif_s)}; its file came after {frame.came_s:.1f} s, was copied in"
        f" {frame.fetch_s:.1f} s, {(frame.size_bytes or 0) / 1e6:.1f} MB"
    )


def _free(path: Path) -> Path:
    """Return a path that can be written and is not there yet, before five minutes are spent. Raises PlanError."""
    if path.exists():
        raise PlanError(f"{path}: this file is there already and is left as it is; give another name.")
    if not path.parent.is_dir():
        raise PlanError(f"{path}: there is no such folder.")
    return path
