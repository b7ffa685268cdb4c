"""The commands and their options, and no more: what does the work is loaded when a command is called.

So help and completion are there at once. Only click and the standard library are loaded here.
"""

from __future__ import annotations

import gc
from functools import partial
from typing import Any

import click

from tether import __version__
from tether.command.options import (
    BODY,
    DESPITE,
    DETACH,
    FILE,
    JSON,
    MODEL,
    OF_OUTING,
    OUTING,
    PLAN,
    PLAN_OR_OUTING,
    PORT,
    RING_BY,
    SIMULATED,
    THROUGH_DRIVER,
    UNDER,
    UNTIL,
    WORDS,
    WORLD,
    YES,
    body_option,
    ladder_option,
    pace_option,
    plan_option,
    to_option,
)
from tether.plan.new import Answers

#: What the search for the base aims at [stops], and in how many frames, where nothing else is said.
BASE_HEADROOM_STOPS, BASE_FRAMES = 0.3, 8
#: How filters on hand are written.
FILTER_HELP = (
    'A filter on hand, such as "Calder 6=ND64", ND1000, 1000x, d0.9, "6 stops" or polariser, or the name of one that '
    "was measured; may be repeated. After a name a number alone is stops up to 30, and a factor above that."
)


#: An option whose default is shown in help.
_defaulting = partial(click.option, show_default=True)


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
@_defaulting("--title", default=Answers.title, help="What the outing is called.")
@body_option(Answers.body)
@_defaulting("--focal", "focal_mm", default=f"{Answers.focal_mm:g}mm", help="Focal length, such as 28mm.")
@_defaulting("--widest", default=Answers.widest, help="Widest aperture of the lens, an f-number.")
@_defaulting("--narrowest", default=Answers.narrowest, help="Narrowest aperture of the lens, an f-number.")
@_defaulting(
    "--time", "base_time", default=Answers.base_time, help="Time of the base exposure, in seconds or as 1/125 or 2m30s."
)
@_defaulting("--aperture", "base_aperture", default=Answers.base_aperture, help="Its aperture, an f-number.")
@_defaulting("--iso", "base_iso", default=Answers.base_iso, help="Its ISO value.")
@_defaulting("--shortest", default=Answers.shortest, help="Time of the shortest rung, in seconds or as 1/500.")
@_defaulting("--longest", default=Answers.longest, help="Time of the longest rung, as 4m or 90s.")
@click.option("--filter", "filters", multiple=True, metavar="[NAME=]STRENGTH", help=FILTER_HELP)
@click.option(
    "--place", "spot", metavar="LATITUDE,LONGITUDE", help="Where it is, in degrees, such as 64.1,-21.9; for the sun."
)
@click.option("--like", type=OUTING, help="Take the plan of an earlier outing's last ladder instead.")
def new(**given: Any) -> None:
    """Write a commented plan to FILE.

    What is not given as an option is asked for at a terminal, where “back” goes back one answer, or has its default.
    """
    from tether.command.planning import write_plan

    write_plan(**given)


@tether.command()
@JSON
def plans(**given: Any) -> None:
    """Show the plans that have a name: your own, and those that come with Tether."""
    from tether.command.planning import show_plans

    show_plans(**given)


@tether.command()
@click.argument("plan", type=PLAN)
@click.option("--why", is_flag=True, help="Show why each rung is so, and what it costs.")
@click.option("--others", type=click.IntRange(0, 20), default=0, help="Show so many other ways for each rung; a count.")
@JSON
@click.option("--picture", type=FILE, help="Also draw the ladder into this SVG file.")
def ladder(**given: Any) -> None:
    """Show the ladder that PLAN makes; no camera is needed."""
    gc.disable()  # so short a command makes hardly any garbage, and looking for it is a twentieth of its time
    try:
        from tether.command.planning import show_ladder

        show_ladder(**given)
    finally:
        gc.enable()


@tether.command()
@click.argument("plan", type=PLAN)
@pace_option("1")
@OF_OUTING
@UNDER
@WORLD
@click.option("--answer-for-me", is_flag=True, help='Answer "your turn" by itself; always so at pace "max".')
@THROUGH_DRIVER
@DESPITE
@DETACH
@YES
def rehearse(**given: Any) -> None:
    """Run the ladder of PLAN on the simulated body. "?" shows the keys, Ctrl-C leaves it to itself.

    A new outing is made for it; with --outing the ladder is added to what is in that folder. Where the last ladder of
    that is not done, you are asked first: "tether run OUTING" resumes it, also a rehearsed one.
    """
    from tether.command.running import rehearse_plan

    rehearse_plan(**given)


@tether.command()
@click.argument("plan_or_outing", type=PLAN_OR_OUTING)
@OF_OUTING
@UNDER
@DETACH
@click.option("--at", help="Start it at 05:40, or a date and time; or by the sun: sunset-40m, civil dusk, sun at -6.")
@click.option("--in", "in_", help="Start it after so long, such as 45m or 2h30m.")
@click.option("--every", help="Begin a ladder every so long, such as 20m, from then (or from now) on until --until.")
@UNTIL
@click.option("--same-again", is_flag=True, help="A new ladder like OUTING's last, with a new base.")
@PORT
@MODEL
@DESPITE
@YES
def run(**given: Any) -> None:
    """Run a plan's ladder, or resume an outing's.

    A plan is run in real time, on the camera that its body file is of, or on the simulated body where it names that;
    an outing's last ladder is resumed from wherever it was. With --outing a plan's ladder is added to what is in that
    folder. Everything is checked before anything is exposed. With --same-again a new composition gets a ladder like the
    outing's last one: its base is found anew by the light, through the filters that are still on. With --every, --until
    is the last moment at which a ladder begins; it may be by the sun too, as --at.
    """
    from tether.command.running import run_plan_or_outing

    run_plan_or_outing(**given)


@tether.command("finish")
@click.argument("outing", type=OUTING)
@click.option("--fetch", is_flag=True, help="Copy what is on the card and not in the outing.")
@click.option(
    "--copy-to",
    type=FILE,
    help="Make a second copy in this folder, read back and compared; left out: in that of the plan.",
)
@JSON
@PORT
def finish_(**given: Any) -> None:
    """Say what is missing at the end of OUTING.

    The card is held against the outing, the camera is set back as it was found, and what is to be done before going
    is said. The exit code is 1 where anything is missing.
    """
    from tether.command.ending import finish_outing

    finish_outing(**given)


@tether.command()
@click.argument("outing", type=OUTING, required=False)
@JSON
@RING_BY
def watch(**given: Any) -> None:
    """Attach to a running ladder; Ctrl-C leaves it to itself.

    With --json what it shows is printed as it comes, one JSON object a line, until it is over.
    """
    from tether.command.attached import watch_run_of

    watch_run_of(**given)


@tether.command()
@click.argument("words", nargs=-1, required=True, type=WORDS)
@OF_OUTING
def say(**given: Any) -> None:
    """Say WORDS to a run, such as pause or brighter.

    A run understands: answer, answer ahead, take back, again, skip, not in the bag, next, pause, go on, brighter,
    darker, I changed something, quick frame, headlamp, regions right, regions wrong; while it is open: longer, shorter,
    close and keep; and stop after this frame, stop now and keep, drop everything. Where several are running, --outing
    says which.
    """
    from tether.command.attached import say_words

    say_words(**given)


@tether.command()
@click.argument("outing", type=OUTING, required=False)
@click.option("--now", is_flag=True, help="Close the shutter now and keep the frame.")
@click.option("--drop", is_flag=True, help="Close the shutter now and leave at once; nothing more is copied.")
def stop(**given: Any) -> None:
    """Stop a run in one of three ways.

    Without an option it stops when the frame in hand is copied. A start planned for later is called off.
    """
    from tether.command.attached import stop_run

    stop_run(**given)


@tether.command()
@JSON
def starts(**given: Any) -> None:
    """Show the runs that are planned for later; tether stop calls one off."""
    from tether.command.starts import show_starts

    show_starts(**given)


@tether.command()
@click.argument("outing", type=OUTING)
@JSON
@click.option("--audit", "audited", is_flag=True, help="Show where each frame's light went, against the base.")
def log(**given: Any) -> None:
    """Show what was really applied in OUTING."""
    from tether.command.outings import show_log

    show_log(**given)


@tether.command()
@click.argument("outing", type=OUTING)
@click.option("--csv", "csv", type=FILE, help="Write a table, a line a frame, to this file; - is standard output.")
@click.option("--log", "log_", type=FILE, help="Write the whole log as JSON to this file; - is standard output.")
@click.option("--xmp", is_flag=True, help="Write a sidecar beside every raw file, or into the one that is there.")
def export(**given: Any) -> None:
    """Write the log of OUTING for other programs.

    A sidecar (XMP) has the rating by what was chosen, how the frame was really made, and keywords. What another program
    wrote in one stays, and raw files are never changed.
    """
    from tether.command.outings import export_log

    export_log(**given)


@tether.command()
@click.argument("outing", type=OUTING)
@click.option(
    "--rung", type=click.IntRange(1), required=True, help="The rung whose frames are averaged, by its number."
)
@ladder_option("ladder")
@to_option("to", "FILE.dng")
@JSON
def average(**given: Any) -> None:
    """Make one long exposure of a rung's many short frames, as a raw file; they are not changed."""
    from tether.command.outings import average_frames

    average_frames(**given)


@tether.command()
@click.argument("outing", type=OUTING)
@click.option("--water", type=click.IntRange(1), required=True, metavar="FRAME", help="The frame that has the water.")
@click.option("--rest", type=click.IntRange(1), required=True, metavar="FRAME", help="The frame that has all else.")
@to_option("to", "FOLDER")
def layers(**given: Any) -> None:
    """Write two frames of OUTING as layers of one print: the water of one, the rest of another, and a mask.

    Both are TIFF files of 16 bits, matched in brightness and colour on the rock; the mask is white where the water is
    and soft at its edge. Raw files are not changed.
    """
    from tether.command.outings import write_two_layers

    write_two_layers(**given)


@tether.command()
@click.argument("outing", type=OUTING)
@to_option("to", "FOLDER")
@click.option("--maybe", is_flag=True, help="Also those that were chosen as “maybe”.")
@JSON
def picks(**given: Any) -> None:
    """Copy the frames of OUTING that were chosen to keep, with sidecars.

    Each copy is read back and held against the journal. No other file is overwritten; what was copied before is left,
    so that it can be called again. The exit code is 1 where anything is missing.
    """
    from tether.command.outings import copy_chosen

    copy_chosen(**given)


@tether.command()
@click.argument("outing", type=OUTING)
@ladder_option("number")
@click.option("--rungs", help="Only the rungs of these numbers, such as 1,4,9.")
@to_option("path", "FILE", needed=False)
@click.option("--strip", type=FILE, help="Make the strip instead, or besides: this .jpg or .png.")
@click.option(
    "--part", help="What the strip shows of each frame: water, rock, or a place such as 0.4,0.6; left out: the water."
)
def sheet(**given: Any) -> None:
    """Make a sheet of OUTING's rungs, to choose by.

    Without --to and --strip it is sheet.jpg. A .jpg or .png is a picture, one frame a rung side by side. A .html is a
    page with every frame, how it was exposed, what it says and what was chosen: one file, which asks for nothing and
    opens on a phone too.

    The strip is a picture to show to others: the same part of every rung, alike in brightness and colour, along an axis
    of open time.
    """
    from tether.command.outings import draw_sheet

    draw_sheet(**given)


@tether.command("outings")
@click.argument("folders", nargs=-1, type=FILE, metavar="[FOLDER]...")
@JSON
@click.option(
    "--near",
    "place",
    metavar="PLACE",
    help="Only those at this place, with how it was framed last and its filters as measured: a name, "
    "LATITUDE,LONGITUDE, or a plan that says where it is.",
)
@click.option("--forget", is_flag=True, help="Forget the outings in FOLDER, or all; the outings themselves stay.")
def outings_(**given: Any) -> None:
    """Show what was done before, and what was kept.

    Shown are the outings that are remembered, and those in ./outings. Those in a FOLDER, or it itself, are remembered
    from then on. A run remembers its outing by itself.
    """
    from tether.command.outings import show_outings

    show_outings(**given)


@tether.command(context_settings={"ignore_unknown_options": True})
@click.argument("plan_or_place", type=PLAN)
@click.option("--date", "date", help="Of this day, such as 2026-06-21; today if left out.")
@click.option("--from", "from_", help="From this time on, such as 21:30; from now, or by night from dawn, if left out.")
@UNTIL
@JSON
def light(**given: Any) -> None:
    """Show the sun, the twilights and how fast the light will change.

    Of a PLAN that has a place, or a PLACE as LATITUDE,LONGITUDE in degrees, such as 64.1,-21.9. For a plan it is also
    shown how much darker its long rungs would be if the ladder began then. Without --until it ends with the plan's
    leave_by, or the end of twilight. Nothing is asked of the network; cloud and
    terrain are not in it.
    """
    from tether.command.light import show_light

    show_light(**given)


@tether.command()
@click.argument("plan", type=PLAN)
@click.option("--start", help="Time of the first frame, in seconds or as 1/30; the plan's base if left out.")
@_defaulting(
    "--headroom",
    "headroom_stops",
    type=click.FloatRange(0, 3),
    default=BASE_HEADROOM_STOPS,
    help="Stops that the brightest thousandth of the water is to stay below clipping.",
)
@_defaulting(
    "--frames",
    type=click.IntRange(2, 50),
    default=BASE_FRAMES,
    help="Frames at the base, 5 seconds apart and within a minute, as water wanders; some that come near it, and two"
    " that show where the sensor clips, come before.",
)
@click.option(
    "--span",
    "span_s",
    type=click.FloatRange(0, 600),
    default=0.0,
    help="Spread eight frames over so many seconds, such as 60 at the coast, and keep to the brightest set of waves.",
)
@click.option("--write", is_flag=True, help="Put it into PLAN; everything else in the file stays as it is.")
@click.option("--leave-set", is_flag=True, help="Leave the camera set to it, instead of restoring its settings.")
@click.option("--keep", type=FILE, help="Keep the frames in this folder; they stay on the card in any case.")
@SIMULATED
@WORLD
@THROUGH_DRIVER
@PORT
@DESPITE
@JSON
def base(**given: Any) -> None:
    """Find the base exposure of PLAN: the longest time with headroom in the water.

    Aperture and ISO are those of the plan's base; a few frames of other times are taken and read, from a start that may
    be off by eight stops; the last of them are spread over 35 seconds. What is found is written as a table for the
    plan. The camera is set back as it was found.
    """
    from tether.command.base import find_base_of

    find_base_of(**given)


@tether.command()
@click.argument("plan_or_outing", type=PLAN_OR_OUTING, required=False)
@SIMULATED
@pace_option(None)
@WORLD
@UNDER
@PORT
@RING_BY
@click.option(
    "--answer-key",
    metavar="KEY",
    envvar="TETHER_ANSWER_KEY",
    show_envvar=True,
    help="One more key that answers your turn, such as page down of a one-button remote.",
)
def desk(**given: Any) -> None:
    """Open the desk: work on a plan and begin its ladder, or attach to the run of an outing.

    With a PLAN, its body is looked at, its base found, its ladder edited and begun. With an OUTING, or nothing, the
    desk attaches to its run, or the only one that is going on; where none runs, the log of the outing, or of the last
    one under ./outings, is shown. Leaving the desk leaves a run alone. A rehearsal goes in real time unless --pace says
    otherwise; as fast as it goes is not for the desk.
    """
    from tether.command.desk import open_desk

    open_desk(**given)


@tether.command()
@click.argument("outing", type=OUTING, required=False)
@click.option("--network", metavar="ADDRESS", help="Serve at this address of this machine, so that a phone reaches it.")
@_defaulting(
    "--page-port",
    type=click.IntRange(1024, 65535),
    default=8437,
    help="The number of the TCP port that it is served at.",
)
@UNDER
@click.option("--certificate", type=FILE, metavar="FILE", help="Encrypt it by this certificate of your own (PEM).")
@click.option("--key", type=FILE, metavar="FILE", help="The private key of the certificate.")
@click.option("--watchers", is_flag=True, help="Show a second link, for a phone that may watch and not steer.")
def page(**given: Any) -> None:
    """Show a run on a phone, and steer it from there; Ctrl-C ends the page, not the run.

    Without OUTING the page also shows the plans there are: one is copied, edited, checked and begun from the phone.
    Without --network the page is for browsers on this machine. A link opens it once; press Enter for a new one.
    """
    from tether.command.paging import serve_page

    serve_page(**given)


@tether.command()
@click.argument("part", type=click.Choice(("rule", "unit", "man")), required=False)
@JSON
def setup(**given: Any) -> None:
    """Say what this system needs once; or print a part of it, to be put where it belongs.

    The rule lets you open a camera on USB, the unit makes planned starts after a restart of the machine, man is the
    manual page. Nothing is changed by this command itself.
    """
    from tether.command.setting_up import print_part

    print_part(**given)


@tether.command()
@click.argument("shell", type=click.Choice(("bash", "zsh", "fish")))
def completion(**given: Any) -> None:
    """Print what SHELL reads so that its Tab key completes.

    It knows commands and options, plans, outings and bodies by name, and the words that can be said to a run.
    """
    from tether.command.setting_up import print_completion

    print_completion(**given)


@tether.group()
def body() -> None:
    """Show, check and try cameras and body files."""


@body.command("list")
@JSON
def list_(**given: Any) -> None:
    """Show what is connected, and which body file fits."""
    from tether.command.body import list_connected

    list_connected(**given)


@body.command()
@click.argument("name", type=BODY, required=False)
@JSON
def show(**given: Any) -> None:
    """Show a body file and where its values are from.

    It is shown as it is in force, with your own file of that name laid over it. Without NAME, which there are.
    """
    from tether.command.body import show_body_file

    show_body_file(**given)


@body.command()
@click.argument("plan", type=PLAN)
@UNDER
@PORT
@MODEL
@JSON
def check(**given: Any) -> None:
    """Check whether the camera is set as PLAN needs it.

    Camera, lens, card, disk and this machine are looked at; nothing is exposed.
    """
    from tether.command.body import check_for

    check_for(**given)


@body.command("draft")
@click.argument("file", type=FILE)
@click.option("--family", type=BODY, help="The body file of its family; the one that fits best if left out.")
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
@click.option("--needs", type=PLAN, metavar="PLAN", help="Set and read back what PLAN needs; else the whole list.")
@click.option("--quick", is_flag=True, help="Leave out the bulb exposure of 60 s.")
@YES
@SIMULATED
@THROUGH_DRIVER
@click.option("--report", "report", type=FILE, help="Where it is written, as .json for others and .md in words.")
@click.option("--serial", is_flag=True, help="Put the serial number into the report in words.")
@DESPITE
@JSON
def try_(**given: Any) -> None:
    """Try one's own body at home, and write a report.

    It takes some five minutes. The body is set to every value and read back; then a few frames are made, with a
    question before the first: point it at anything, or leave the cap on. It is set back as it was found, and what was
    measured is written into your own file of this body.
    """
    from tether.command.body import try_body

    try_body(**given)


@body.command()
@click.argument("report", type=FILE)
@click.argument("name", type=BODY, required=False)
@JSON
def compare(**given: Any) -> None:
    """Hold the report of a trial against a body file.

    REPORT is what “tether body try” wrote; NAME the body file, the one that fits best if left out. Each thing that
    agrees or differs is said, and what the file may then say of itself instead of “not tried on hardware”.
    """
    from tether.command.body import compare_report

    compare_report(**given)


@tether.group()
def measure() -> None:
    """Measure by light what filters and the shutter really do."""


@measure.command("filter")
@click.argument("names", nargs=-1, required=True, metavar="NAME…")
@plan_option(required=True)
@click.option("--stacked", is_flag=True, help="Measure them together too, against their sum.")
@click.option(
    "--longer", is_flag=True, help="Measure each again two stops narrower, four times as long: tells of light let in."
)
@SIMULATED
@WORLD
@JSON
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
@plan_option()
@body_option(None)
@SIMULATED
@THROUGH_DRIVER
@_defaulting(
    "--times",
    "times_s",
    type=click.FloatRange(1, 60),
    multiple=True,
    default=(2.0,),
    help="Bulb time in seconds; may be repeated.",
)
@_defaulting("--repeats", type=click.IntRange(3, 100), default=8, help="Bulb exposures of each time.")
@YES
@JSON
@PORT
def hold(**given: Any) -> None:
    """Measure how long the shutter is really open on bulb, and timed marks that are not what they say.

    Point the lens, wide open, at something evenly lit by a steady lamp: daylight wanders, and lamps on the mains often
    flicker. Cover the viewfinder. What is found goes into your own file of this body.
    """
    from tether.command.measure import measure_opening

    measure_opening(**given)
