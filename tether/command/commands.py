"""The commands and their options, and no more: what does the work is loaded when a command is called.

So help and completion are there at once. Only click and the standard library are loaded here.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, Final, TypeVar, get_args

import click

from tether import __version__
from tether.body.dialects import Dialect
from tether.command.plans import plan_named
from tether.errors import PlanError
from tether.plan.new import Answers

Decorated = TypeVar("Decorated", bound=Callable[..., Any] | click.Command)

FILE = click.Path(path_type=Path)


class _Plan(click.Path):
    """A plan, or an outing: a file or folder, or a plan's name."""

    name = "plan"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        return plan_named(Path(str(super().convert(value, param, ctx))))


PLAN = _Plan(path_type=Path)
DIALECT = click.Choice(get_args(Dialect))
PORT = click.option("--port", default="", help="Where the camera is, as “tether body list” has it; else the only one.")
MODEL = click.option(
    "--model", default="", help="What the camera is, as the camera library calls it; with a --port on a network."
)
DESPITE = click.option(
    "--despite",
    multiple=True,
    metavar="CHECK=REASON",
    help="A check that is not to stop it, and why, for the log; may be repeated.",
)
#: Where outings are made, unless another folder is given.
OUTINGS = Path("outings")
#: The pace that is as fast as it goes.
MAX: Final = "max"
#: What the search for the base aims at [stops], and in how many frames, where nothing else is said.
BASE_HEADROOM_STOPS, BASE_FRAMES = 0.3, 4
#: Where the page is served if nothing else is said.
PAGE_PORT = 8437


def dialect_option(name: str, help_: str) -> Callable[[Decorated], Decorated]:
    """Return an option that has a simulated camera on the wire spoken to, in a dialect that may be named."""
    return click.option(name, "dialect", type=DIALECT, is_flag=False, flag_value="eos", help=help_)


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="tether")
def tether() -> None:
    """Work a ladder of exposures of moving water: the same light, from frozen to silk.

    \b
    Exit codes: 0 done as planned; 1 ended, but something is missing or was stopped;
    2 correct the plan or the command; 3 correct, fit or wait for something at the camera; 4 given up.
    """


@tether.command()
@click.argument("file", type=FILE)
@click.option("--title", default=Answers.title, show_default=True, help="What the outing is called.")
@click.option("--body", default=Answers.body, show_default=True, help="Body file, by name or path.")
@click.option(
    "--focal", "focal_mm", type=float, default=Answers.focal_mm, show_default=True, help="Focal length in mm."
)
@click.option("--widest", default=Answers.widest, show_default=True, help="Widest aperture of the lens.")
@click.option("--narrowest", default=Answers.narrowest, show_default=True, help="Narrowest aperture of the lens.")
@click.option("--time", "base_time", default=Answers.base_time, show_default=True, help="Time of the base exposure.")
@click.option("--aperture", "base_aperture", default=Answers.base_aperture, show_default=True, help="Its aperture.")
@click.option("--iso", "base_iso", default=Answers.base_iso, show_default=True, help="Its ISO.")
@click.option("--from", "shortest", default=Answers.shortest, show_default=True, help="Shortest rung.")
@click.option("--to", "longest", default=Answers.longest, show_default=True, help="Longest rung.")
@click.option("--filter", "filters", multiple=True, metavar="NAME=STOPS", help="A filter on hand; may be repeated.")
@click.option("--place", metavar="LATITUDE,LONGITUDE", help="Where it is, in degrees, such as 64.1,-21.9; for the sun.")
@click.option("--like", type=FILE, help="Take the plan of an earlier outing's last ladder instead.")
def new(**given: Any) -> None:
    """Write a commented plan to FILE.

    What is not given as an option is asked for at a terminal, or has its default.
    """
    from tether.command.planning import write_plan

    write_plan(**given)


@tether.command()
@click.argument("plan", type=PLAN)
@click.option("--why", is_flag=True, help="Show why each rung is so, and what it costs.")
@click.option("--others", type=click.IntRange(0, 20), default=0, help="Show so many other ways for each rung.")
@click.option("--json", "as_json", is_flag=True, help="Print the ladder as JSON.")
@click.option("--picture", type=FILE, help="Also draw the ladder into this SVG file.")
def ladder(**given: Any) -> None:
    """Show the ladder that PLAN makes; no camera is needed."""
    from tether.command.planning import show_ladder

    show_ladder(**given)


def _pace(_context: click.Context, _option: click.Parameter, value: str) -> float | str:
    if value == MAX:
        return MAX
    try:
        pace = float(value)
    except ValueError:
        pace = 0.0
    if not 0.1 <= pace <= 1000:
        raise PlanError(f'--pace "{value}": write 1 for real time, a number up to 1000 to be faster, or "max".')
    return pace


@tether.command()
@click.argument("plan", type=PLAN)
@click.option("--pace", callback=_pace, default="1", show_default=True, help='1, 60, … or "max" (as fast as it goes).')
@click.option("--outing", type=FILE, help="The outing's folder; this ladder is added to what is there.")
@click.option("--under", type=FILE, default=OUTINGS, show_default=True, help="Where a new outing is made.")
@click.option("--world", type=FILE, help="A file that says what the simulated world really does.")
@click.option("--answer-for-me", is_flag=True, help='Answer "your turn" by itself; always so at pace "max".')
@dialect_option(
    "--through-driver",
    "Speak to the simulated body by the driver for real ones, at pace 1; with which dialect, eos if left out.",
)
@DESPITE
@click.option("--detach", is_flag=True, help="Start it and leave it to itself.")
def rehearse(**given: Any) -> None:
    """Run the ladder of PLAN on the simulated body. "?" shows the keys, Ctrl-C leaves it to itself."""
    from tether.command.running import rehearse_plan

    rehearse_plan(**given)


@tether.command()
@click.argument("plan_or_outing", type=PLAN)
@click.option("--outing", type=FILE, help="The outing's folder; this ladder is added to what is there.")
@click.option("--under", type=FILE, default=OUTINGS, show_default=True, help="Where a new outing is made.")
@click.option("--detach", is_flag=True, help="Start it and leave it to itself.")
@click.option("--at", help="Start it at 05:40, or a date and time; or by the sun: sunset-40m, civil dusk, sun at -6.")
@click.option("--in", "in_", help="Start it after so long, such as 45m or 2h30m.")
@click.option("--every", help="Begin a ladder every so long, such as 20m, from then (or from now) on until --until.")
@click.option("--until", help="The last moment at which one begins; written as for --at.")
@PORT
@MODEL
@DESPITE
def run(**given: Any) -> None:
    """Run a plan's ladder, or resume an outing's.

    A plan is run in real time, on the camera that its body file is of, or on the simulated body where it names that;
    an outing's last ladder is resumed from wherever it was. Everything is checked before anything is exposed.
    """
    from tether.command.running import run_plan_or_outing

    run_plan_or_outing(**given)


@tether.command("finish")
@click.argument("outing", type=FILE)
@click.option("--fetch", is_flag=True, help="Copy what is on the card and not in the outing.")
@click.option("--copy-to", type=FILE, help="Make a second copy in this folder, read back and compared.")
@PORT
def finish_(**given: Any) -> None:
    """Say what is missing at the end of OUTING.

    The card is held against the outing, the camera is set back as it was found, and what is to be done before going
    is said. The exit code is 1 where anything is missing.
    """
    from tether.command.ending import finish_outing

    finish_outing(**given)


@tether.command()
@click.argument("outing", required=False)
def watch(**given: Any) -> None:
    """Attach to a running ladder; Ctrl-C leaves it to itself."""
    from tether.command.attached import watch_run_of

    watch_run_of(**given)


@tether.command()
@click.argument("words", nargs=-1, required=True)
@click.option("--outing", help="Which run, where several are running.")
def say(**given: Any) -> None:
    """Say WORDS to a run, such as pause or brighter.

    A run understands: answer, answer ahead, again, skip, next, pause, go on, brighter, darker; while it is open:
    longer, shorter, close and keep; and stop after this frame, stop now and keep, drop everything.
    """
    from tether.command.attached import say_words

    say_words(**given)


@tether.command()
@click.argument("outing", required=False)
@click.option("--now", is_flag=True, help="Close the shutter now and keep the frame.")
@click.option("--drop", is_flag=True, help="Close the shutter now and leave at once; nothing more is copied.")
def stop(**given: Any) -> None:
    """Stop a run in one of three ways.

    Without an option it stops when the frame in hand is copied. A start planned for later is called off.
    """
    from tether.command.attached import stop_run

    stop_run(**given)


@tether.command()
@click.argument("outing", type=FILE)
@click.option("--json", "as_json", is_flag=True, help="Print the log as JSON.")
@click.option("--audit", "audited", is_flag=True, help="Show where each frame's light went, against the base.")
def log(**given: Any) -> None:
    """Show what was really applied in OUTING."""
    from tether.command.outings import show_log

    show_log(**given)


@tether.command()
@click.argument("outing", type=FILE)
@click.option("--csv", "csv", type=FILE, help="Write a table, a line a frame, to this file; - is standard output.")
@click.option("--json", "json_", type=FILE, help="Write everything to this file; - is standard output.")
@click.option("--xmp", is_flag=True, help="Write a sidecar beside every raw file, or into the one that is there.")
def export(**given: Any) -> None:
    """Write the log of OUTING for other programs.

    A sidecar (XMP) has the rating by what was chosen, how the frame was really made, and keywords. What another program
    wrote in one stays, and raw files are never changed.
    """
    from tether.command.outings import export_log

    export_log(**given)


@tether.command()
@click.argument("outing", type=FILE)
@click.option("--rung", type=click.IntRange(1), required=True, help="The rung whose frames are averaged.")
@click.option("--ladder", type=click.IntRange(1), help="Of this ladder; the last one if left out.")
@click.option("--to", type=FILE, required=True, metavar="FILE", help="The DNG file to write.")
def average(**given: Any) -> None:
    """Make one long exposure of a rung's many short frames, as a raw file; they are not changed."""
    from tether.command.outings import average_frames

    average_frames(**given)


@tether.command()
@click.argument("outing", type=FILE)
@click.option("--to", type=FILE, required=True, metavar="FOLDER", help="The folder that the copies go into.")
@click.option("--maybe", is_flag=True, help="Also those that were chosen as “maybe”.")
def picks(**given: Any) -> None:
    """Copy the frames of OUTING that were chosen to keep, with sidecars.

    Each copy is read back and held against the journal. No other file is overwritten; what was copied before is left,
    so that it can be called again. The exit code is 1 where anything is missing.
    """
    from tether.command.outings import copy_chosen

    copy_chosen(**given)


@tether.command()
@click.argument("outing", type=FILE)
@click.option(
    "--ladder", "number", type=click.IntRange(1), help="Which ladder of the outing; the last one if left out."
)
@click.option("--rungs", help="Only these rungs, such as 1,4,9.")
@click.option("--to", "path", type=FILE, default=Path("sheet.jpg"), show_default=True, help="The file to write.")
def sheet(**given: Any) -> None:
    """Make a sheet of OUTING's rungs, to choose by.

    A .jpg or .png is a picture, one frame a rung side by side. A .html is a page with every frame, how it was exposed,
    what it says and what was chosen: one file, which asks for nothing and opens on a phone too.
    """
    from tether.command.outings import draw_sheet

    draw_sheet(**given)


@tether.command(context_settings={"ignore_unknown_options": True})
@click.argument("plan_or_place")
@click.option("--date", "date", help="Of this day, such as 2026-06-21; today if left out.")
@click.option("--from", "from_", help="From this time on, such as 21:30; from now, or by night from dawn, if left out.")
@click.option("--until", help="Until this time; the plan's leave_by, or the end of twilight, if left out.")
@click.option("--json", "as_json", is_flag=True, help="Print it as JSON.")
def light(**given: Any) -> None:
    """Show the sun, the twilights and how fast the light will change.

    Of a PLAN that has a place, or a PLACE as LATITUDE,LONGITUDE in degrees, such as 64.1,-21.9. For a plan it is also
    shown how much darker its long rungs would be if the ladder began then. Nothing is asked of the network; cloud and
    terrain are not in it.
    """
    from tether.command.light import show_light

    show_light(**given)


@tether.command()
@click.argument("plan", type=PLAN)
@click.option("--start", help="Time of the first frame, such as 1/30; the plan's base if left out.")
@click.option(
    "--headroom",
    "headroom_stops",
    type=click.FloatRange(0, 3),
    default=BASE_HEADROOM_STOPS,
    show_default=True,
    help="Stops that the brightest thousandth of the water is to stay below clipping.",
)
@click.option(
    "--frames",
    type=click.IntRange(2, 50),
    default=BASE_FRAMES,
    show_default=True,
    help="Frames in all, beside two that show where the sensor clips and four at the fastest rung's time.",
)
@click.option(
    "--span",
    "span_s",
    type=click.FloatRange(0, 600),
    default=0.0,
    help="Go on for so many seconds at the base, such as 60 at the coast, and keep to the brightest set of waves.",
)
@click.option("--write", is_flag=True, help="Put it into PLAN; everything else in the file stays as it is.")
@click.option("--leave-set", is_flag=True, help="Leave the camera set to it, instead of restoring its settings.")
@click.option("--keep", type=FILE, help="Keep the frames in this folder; they stay on the card in any case.")
@click.option("--simulated", is_flag=True, help="Rehearse it without a camera, where PLAN is for one.")
@click.option("--world", type=FILE, help="A file that says what the simulated world really does; rehearses it.")
@dialect_option("--through-driver", "Rehearse it by the driver for real bodies; with which dialect, eos if left out.")
@PORT
@DESPITE
def base(**given: Any) -> None:
    """Find the base exposure of PLAN: the longest time with headroom in the water.

    Aperture and ISO are those of the plan's base; a few frames of other times are taken and read, from a start that may
    be off by eight stops. What is found is written as a table for the plan. The camera is set back as it was found.
    """
    from tether.command.base import find_base_of

    find_base_of(**given)


@tether.command()
@click.argument("plan_or_outing", required=False)
@click.option("--rehearse", is_flag=True, help="Rehearse PLAN on a simulated body, where it is for a camera.")
@click.option("--pace", type=click.FloatRange(0.1, 1000), help="How fast a rehearsal goes; 1, real time, if left out.")
@click.option("--world", type=FILE, help="A file that says what the simulated world really does.")
@click.option("--under", type=FILE, default=OUTINGS, show_default=True, help="Where a new outing is made.")
@PORT
def desk(**given: Any) -> None:
    """Open the desk: work on a plan and begin its ladder, or attach to the run of an outing.

    With a PLAN, its body is looked at, its base found, its ladder edited and begun. With an OUTING, or nothing, the
    desk attaches to its run, or the only one that is going on; where none runs, the log of the outing, or of the last
    one under ./outings, is shown. Leaving the desk leaves a run alone.
    """
    from tether.command.desk import open_desk

    open_desk(**given)


@tether.command()
@click.argument("outing", required=False)
@click.option("--network", metavar="ADDRESS", help="Serve at this address of this machine, so that a phone reaches it.")
@click.option("--port", type=click.IntRange(1024, 65535), default=PAGE_PORT, show_default=True, help="The port.")
@click.option("--under", type=FILE, default=OUTINGS, show_default=True, help="Where a new outing is made.")
@click.option("--watchers", is_flag=True, help="Show a second link, for a phone that may watch and not steer.")
def page(**given: Any) -> None:
    """Show a run on a phone, and steer it from there; Ctrl-C ends the page, not the run.

    Without OUTING the page also shows the plans there are: one is copied, edited, checked and begun from the phone.
    Without --network the page is for browsers on this machine. A link opens it once; press Enter for a new one.
    """
    from tether.command.paging import serve_page

    serve_page(**given)


@tether.command()
@click.argument("part", type=click.Choice(("rule", "unit", "completion")), required=False)
@click.option("--shell", type=click.Choice(("bash", "zsh", "fish")), default="bash", show_default=True, help="Whose.")
def setup(**given: Any) -> None:
    """Say what this system needs once; or print PART of it, to be put where it belongs.

    The rule lets you open a camera on USB, the unit makes planned starts after a restart of the machine, the completion
    is for the Tab key. Nothing is changed by this command itself.
    """
    from tether.command.setting_up import print_part

    print_part(**given)


@tether.group()
def body() -> None:
    """Show, check and try cameras and body files."""


@body.command("list")
def list_(**given: Any) -> None:
    """Show what is connected, and which body file fits."""
    from tether.command.body import list_connected

    list_connected(**given)


@body.command()
@click.argument("name", required=False)
@click.option("--json", "as_json", is_flag=True, help="Print it as JSON.")
def show(**given: Any) -> None:
    """Show a body file and where its values are from.

    It is shown as it is in force, with your own file of that name laid over it. Without NAME, which there are.
    """
    from tether.command.body import show_body_file

    show_body_file(**given)


@body.command()
@click.argument("plan", type=PLAN)
@click.option("--under", type=FILE, default=OUTINGS, show_default=True, help="Where the outing would be made.")
@PORT
@MODEL
def check(**given: Any) -> None:
    """Check whether the camera is set as PLAN needs it.

    Camera, lens, card, disk and this machine are looked at; nothing is exposed.
    """
    from tether.command.body import check_for

    check_for(**given)


@body.command("draft")
@click.argument("file", type=FILE)
@click.option("--like", help="The body file of its family, by name; the one that fits best if left out.")
@PORT
@MODEL
def draft_(**given: Any) -> None:
    """Write a body file for the camera that is there.

    What it offers as its dial stands is written to FILE, with remarks on what is to be looked up.
    """
    from tether.command.body import write_draft

    write_draft(**given)


@body.command("try")
@PORT
@MODEL
@click.option("--needs", type=FILE, metavar="PLAN", help="Set and read back what PLAN needs; else the whole list.")
@click.option("--quick", is_flag=True, help="Leave out the bulb exposure of 60 s.")
@click.option("--yes", is_flag=True, help="Expose without asking, for scripts.")
@dialect_option("--simulated", "Rehearse it without a camera.")
@click.option("--report", "report", type=FILE, help="Where the report is written; a name with the date if left out.")
@click.option("--serial", is_flag=True, help="Put the serial number into the report.")
@DESPITE
def try_(**given: Any) -> None:
    """Try one's own body at home, and write a report.

    It takes some five minutes. The body is set to every value and read back; then a few frames are made, with a
    question before the first: point it at anything, or leave the cap on. It is set back as it was found, and what was
    measured is written into your own file of this body.
    """
    from tether.command.body import try_body

    try_body(**given)


@tether.group()
def measure() -> None:
    """Measure by light what filters and the shutter really do."""


@measure.command("filter")
@click.argument("names", nargs=-1, required=True, metavar="NAME…")
@click.option("--plan", "plan", type=FILE, required=True, help="The plan that has the filters, body and lens.")
@click.option("--stacked", is_flag=True, help="Measure them together too, against their sum.")
@click.option(
    "--longer", is_flag=True, help="Measure each again two stops narrower, four times as long: tells of light let in."
)
@click.option("--world", type=FILE, help="A file that says what the simulated world really does.")
@click.option("--json", "as_json", is_flag=True, help="Print it as JSON.")
@PORT
def filter_(**given: Any) -> None:
    """Measure filters of a plan, by name.

    You put each on and take it off when asked; the tripod stays as it is. What is found goes into your own file of
    filters, and from then on into every plan that has a filter of that name. A steady light and something bright and
    still in the picture, rock or a wall, are best.
    """
    from tether.command.measure import measure_filters

    measure_filters(**given)


@measure.command()
@click.option("--plan", "plan", type=FILE, help="A plan that names the body.")
@click.option("--body", "body", help="The body file, by name or path.")
@dialect_option("--simulated", "Rehearse it on the wire.")
@click.option("--times", "times_s", type=click.FloatRange(1, 60), multiple=True, default=(2.0,), help="Bulb times [s].")
@click.option(
    "--repeats", type=click.IntRange(3, 100), default=8, show_default=True, help="Bulb exposures of each time."
)
@click.option("--yes", is_flag=True, help="Begin without asking, for scripts.")
@click.option("--json", "as_json", is_flag=True, help="Print it as JSON.")
@PORT
def hold(**given: Any) -> None:
    """Measure how long the shutter is really open on bulb, and timed marks that are not what they say.

    Point the lens, wide open, at something evenly lit by a steady lamp: daylight wanders, and lamps on the mains often
    flicker. Cover the viewfinder. What is found goes into your own file of this body.
    """
    from tether.command.measure import measure_opening

    measure_opening(**given)
