"""Outings that were: their log shown, exported, and drawn as a sheet."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from tether.command.common import out, print_json, talk
from tether.errors import PlanError
from tether.files.safe import safe_write
from tether.journal.story import Outing
from tether.journal.telling import read_outing
from tether.report.choices import Verdict, read_choices
from tether.report.tables import LogView

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
        out().print(LogView(told))


def export_log(outing: Path, csv: Path | None, json_: Path | None, xmp: bool) -> None:
    """Write the log of an outing for other programs."""
    from tether.report.export import csv_bytes, json_bytes

    if csv is None and json_ is None and not xmp:
        raise PlanError("tether export: say what to write: --csv FILE, --json FILE, --xmp, or several of them.")
    if csv == json_ == STANDARD_OUTPUT:
        raise PlanError("tether export: only one of --csv and --json can be -, which is standard output.")
    told = read_outing(outing)
    if csv:
        _write(csv, csv_bytes(told))
    if json_:
        _write(json_, json_bytes(told))
    if xmp:
        _write_sidecars(outing, told)


def _write_sidecars(outing: Path, told: Outing) -> None:
    """Write sidecars, say what became of them, and end with 1 where one is missing."""
    from tether.report.sidecars import write_sidecars

    written = write_sidecars(outing, told, read_choices(outing))
    for sentence in (*written.problems, *written.stayed, written.summary):
        talk().print(sentence, soft_wrap=True)
    if written.problems:
        sys.exit(1)


def _write(target: Path, data: bytes) -> None:
    """Write to a file, or to standard output."""
    if target == STANDARD_OUTPUT:
        click.echo(data, nl=False)
    else:
        safe_write(target, data)


def copy_chosen(outing: Path, to: Path, maybe: bool) -> None:
    """Copy what was chosen, say what was done, and end with 1 where anything is missing."""
    from tether.outing.picks import copy_picks

    verdicts: frozenset[Verdict] = frozenset({"keep", "maybe"} if maybe else {"keep"})
    picked = copy_picks(outing, read_outing(outing), read_choices(outing), to, verdicts)
    for sentence in (*picked.problems, *picked.notes, picked.summary):
        talk().print(sentence, soft_wrap=True)
    if picked.problems or not picked.frames:
        sys.exit(1)


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
        talk().print(f"{strip} is written.", soft_wrap=True)
    if path is not None or strip is None:
        path = path or SHEET
        make_sheet(outing, ladder, path, rungs=numbers, part=shown)
        talk().print(f"{path} is written.", soft_wrap=True)


def average_frames(outing: Path, rung: int, ladder: int | None, to: Path) -> None:
    """Average a rung's frames into a raw file, and say what that equals."""
    from tether.report.averages import average_rung  # arrays, which the log does without

    if to.suffix.lower() != ".dng":
        raise PlanError(f"--to {to}: an average is written as .dng; give it that ending.")
    told = read_outing(outing)
    story = told.ladder(ladder) if ladder else (told.ladders[-1] if told.ladders else None)
    if story is None:
        raise PlanError(f"{outing}: there is no such ladder in this outing.")
    for sentence in average_rung(outing, story, rung, to).sentences:
        talk().print(sentence, soft_wrap=True)
    talk().print(f"{to} is written.", soft_wrap=True)


def _numbers(text: str | None) -> list[int] | None:
    if text is None:
        return None
    try:
        return [int(one) for one in text.split(",")]
    except ValueError:
        raise PlanError(f'--rungs "{text}": write the numbers of rungs with commas between, such as 1,4,9.') from None
