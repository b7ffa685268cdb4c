"""Outings that were: listed; their log shown, exported, and drawn as a sheet."""

from __future__ import annotations

import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

import click

from tether.command.common import out, print_json, say, show
from tether.command.options import OUTINGS
from tether.command.places import read_place
from tether.command.plans import plan_named
from tether.errors import PlanError
from tether.files.safe import safe_write
from tether.journal.telling import read_outing
from tether.report.choices import Verdict, read_choices
from tether.report.tables import LogView

if TYPE_CHECKING:
    from tether.outing.known import Known
    from tether.outing.picks import Picked
    from tether.plan.file import Place

PICKS_SCHEMA, AVERAGE_SCHEMA = "tether-picks/1", "tether-average/1"
#: A target that is no file.
STANDARD_OUTPUT = Path("-")
#: Where a sheet is written if nothing else is said.
SHEET = Path("sheet.jpg")


def show_log(outing: Path, as_json: bool, audited: bool) -> None:
    """Show what was really applied in an outing."""
    told = read_outing(outing)
    if as_json:
        from tether.report.log import log_json  # its audit reckons with arrays, which the table does without

        print_json(log_json(told))
    elif audited:
        from tether.report.audit_view import AuditView

        out().print(AuditView(told))
    else:
        page = out()
        for part in LogView(told).parts(page.width):
            page.print(part)


def export_log(outing: Path, csv: Path | None, log_: Path | None, xmp: bool) -> None:
    """Write the log of an outing for other programs, and end with 1 where a sidecar is missing."""
    from tether.report.export import csv_bytes, json_bytes

    if csv is None and log_ is None and not xmp:
        raise PlanError("tether export: say what to write: --csv FILE, --log FILE, --xmp, or several of them.")
    if csv == log_ == STANDARD_OUTPUT:
        raise PlanError("tether export: only one of --csv and --log can be -, which is standard output.")
    told = read_outing(outing)
    if csv:
        _write(csv, csv_bytes(told))
    if log_:
        _write(log_, json_bytes(told))
    if xmp:
        from tether.report.sidecars import write_sidecars

        written = write_sidecars(outing, told, read_choices(outing))
        say(*written.problems, *written.stayed, written.summary)
        if written.problems:
            sys.exit(1)


def _write(target: Path, data: bytes) -> None:
    """Write to a file, or to standard output."""
    if target == STANDARD_OUTPUT:
        click.echo(data, nl=False)
    else:
        safe_write(target, data)


def copy_chosen(outing: Path, to: Path, maybe: bool, as_json: bool) -> None:
    """Copy what was chosen, say what was done, and end with 1 where anything is missing."""
    from tether.outing.picks import copy_picks

    verdicts: frozenset[Verdict] = frozenset({"keep", "maybe"} if maybe else {"keep"})
    picked = copy_picks(outing, read_outing(outing), read_choices(outing), to, verdicts)
    if as_json:
        print_json(_picks_json(outing, picked))
    say(*picked.problems, *picked.notes, picked.summary)
    if picked.problems or not picked.frames:
        sys.exit(1)


def _picks_json(outing: Path, picked: Picked) -> dict[str, object]:
    """Return what was copied as plain data, valid by ``picks.schema.json``."""
    return {
        "schema": PICKS_SCHEMA,
        "outing": str(outing),
        "to": str(picked.to),
        "copied": list(picked.copied),
        "there": list(picked.there),
        "notes": list(picked.notes),
        "problems": list(picked.problems),
    }


def draw_sheet(
    outing: Path,
    number: int | None,
    rungs: str | None,
    path: Path | None,
    strip: Path | None = None,
    part: str | None = None,
) -> None:
    """Make a sheet of an outing's rungs, or the strip, or both."""
    from tether.report.sheet import make_sheet  # pictures, which the log does without
    from tether.report.strip import part_of
    from tether.report.strip_picture import make_strip

    shown = None if part is None else part_of(part)
    told = read_outing(outing)
    if not told.ladders:
        raise PlanError(f"{outing}: this outing has no ladder yet.")
    ladder, numbers = number or told.ladders[-1].ladder, _numbers(rungs)
    if strip is not None:
        make_strip(outing, ladder, strip, rungs=numbers, part=shown)
        say(f"{strip} is written.")
    if path is not None or strip is None:
        path = path or SHEET
        make_sheet(outing, ladder, path, rungs=numbers, part=shown)
        say(f"{path} is written.")


def average_frames(outing: Path, rung: int, ladder: int | None, to: Path, as_json: bool) -> None:
    """Average a rung's frames into a raw file, and say what that equals."""
    from tether.report.averages import average_rung  # arrays, which the log does without

    if to.suffix.lower() != ".dng":
        raise PlanError(f"--to {to}: an average is written as .dng; give it that ending.")
    told = read_outing(outing)
    story = told.ladder(ladder) if ladder else (told.ladders[-1] if told.ladders else None)
    if story is None:
        raise PlanError(f"{outing}: there is no such ladder in this outing.")
    averaged = average_rung(outing, story, rung, to)
    if as_json:
        print_json(
            {
                "schema": AVERAGE_SCHEMA,
                "outing": str(outing),
                "ladder": story.ladder,
                "rung": rung,
                "file": str(to),
                **asdict(averaged),
            }
        )
    say(*averaged.sentences, f"{to} is written.")


def write_two_layers(outing: Path, water: int, rest: int, to: Path) -> None:
    """Write two frames that are to be one print as layers, and say how they match."""
    from tether.report.layers import write_layers  # arrays, which the log does without

    done = write_layers(outing, read_outing(outing), water, rest, to)
    say(*done.sentences, *(f"{file} is written." for file in done.files))


def _numbers(text: str | None) -> list[int] | None:
    if text is None:
        return None
    try:
        return [int(one) for one in text.split(",")]
    except ValueError:
        raise PlanError(f'--rungs "{text}": write the numbers of rungs with commas between, such as 1,4,9.') from None


def show_outings(folders: tuple[Path, ...], as_json: bool, place: str | None, forget: bool) -> None:
    """Show the outings that are known, or those at a place, or forget some."""
    if forget:
        _forget(folders)
        return
    from tether.outing.known import known_outings

    known = known_outings(folders or tuple(_here()), and_remember=bool(folders))
    if place is None:
        _show_known(known, as_json)
    else:
        _show_place(known, as_json, place)
    say(*known.sentences)


def _show_known(known: Known, as_json: bool) -> None:
    from tether.outing.memory import cases
    from tether.plan.learned import figures

    learned = figures(cases())
    if as_json:
        from tether.report.done_before import outings_json

        print_json(outings_json(known.outings, known.gone, learned=learned))
    else:
        from tether.report.done_before_view import DoneView

        out().print(DoneView(known.outings, learned))


def _show_place(known: Known, as_json: bool, text: str) -> None:
    from tether.outing.place import place_known
    from tether.report.done_before import outings_json
    from tether.report.place import PlaceView, known_json

    there = place_known(_place(text), known.outings)
    data = outings_json(there.outings, known.gone, place=known_json(there))
    show(data, PlaceView(there), as_json=as_json)


def _place(text: str) -> Place:
    """Return the place that is named: where it is on the earth, that of a plan, or its name. Raises PlanError."""
    from tether.plan.file import Place, read_plan

    spot = read_place(text)
    if spot is not None:
        return Place(latitude=spot.latitude, longitude=spot.longitude)
    path = plan_named(Path(text))
    if not path.is_file():
        return Place(name=text)
    place = read_plan(path).place
    if not place.name and place.spot is None:
        raise PlanError(f"--place {text}: this plan does not say where it is; give [place] a name, or degrees.")
    return place


def _here() -> list[Path]:
    """Return the folder in which outings are made, where there are any in it."""
    from tether.outing.known import outings_in

    try:
        return [OUTINGS] if outings_in(OUTINGS) else []
    except PlanError:
        return []


def _forget(folders: tuple[Path, ...]) -> None:
    from tether.outing.known import forgotten
    from tether.outing.memory import forget, forget_all, remembered

    if not folders:
        forget_all()
        say("All outings are forgotten. They themselves are where they were.")
        return
    marks = forgotten(remembered(), folders)
    forget(marks)
    say(f"{'1 outing is' if len(marks) == 1 else f'{len(marks)} outings are'} forgotten.")
