"""Every reader, given what it was never meant to be given: it reads, or raises an error of the product with a sentence.

Nothing else is ever raised, and nothing hangs. A few examples here; `make prove` tries many.
"""

from __future__ import annotations

import dataclasses
import json
import random
import sqlite3
import tempfile
import tomllib
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from copy import deepcopy
from dataclasses import dataclass
from datetime import date, time
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import tomlkit
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.control.rig import CLOCK, FACTS
from tests.engine.rig import BASE, SIX, work
from tests.journal.outings import weir, write_outing
from tests.plan.plans import HEAD
from tether.body import stamps
from tether.body.bodyfile import load_body_file
from tether.body.connection import SIMULATED
from tether.body.driver import found, known
from tether.body.driver.known import KnownBody
from tether.body.simulated.world import World, load_world
from tether.body.wire import GarbledError, _message, pack, unpack
from tether.control.messages import Hello, Say, decode, decode_request, encode, encode_request
from tether.control.registry import _notes
from tether.editor.messages import Begun, SetRegion, Start, decode_news, decode_start, decode_wish
from tether.editor.messages import encode as wish
from tether.errors import TetherError
from tether.files.check import check_frame
from tether.files.exif import read_exif
from tether.files.preview import preview_of
from tether.files.raw import read_raw
from tether.files.sidecar import write_sidecar
from tether.journal.snapshot import Snapshot
from tether.journal.store import JOURNAL_NAME, read_contents
from tether.journal.telling import tell
from tether.outing.job import JOB_NAME, Job, read_job
from tether.plan.file import plan_from_text
from tether.report.choices import CHOICES_NAME, read_choices

FEW, MANY = 6, 200
#: Errors of the product are sentences for people; that of the line to the camera process is made one by its reader.
OURS = (TetherError, GarbledError)

Read = Callable[[bytes], object]

# What is given

SCALARS: st.SearchStrategy[Any] = st.one_of(
    st.text(max_size=20),
    st.sampled_from(
        ["", "bulb", "1/0", "-1", "0", "1/125", "f/8", "f/0", "nan", "1e999", "24:61", "../..", "\x00", "\ud800"]
    ),
    st.integers(-(2**70), 2**70),
    st.integers(-3, 3),
    st.floats(),
    st.booleans(),
    st.sampled_from([[], {}, [[]], [{}], {"is": "Path"}, date(2026, 1, 1), time(4, 5)]).map(deepcopy),
)
MARKS = ("1/8000", "1/32000", "30", "900h", "4m", "0.000001", "f/1", "f/0.5", "f/512", "sunset-40m", "24:00", "bulb")
PRINTED = st.text(st.characters(codec="utf-8"), max_size=60)


@dataclass(frozen=True)
class Reader:
    """One reader: what it reads a valid one of, and how text or bytes are changed before it is given them."""

    read: Read
    sound: Callable[[], bytes]
    change: Callable[[bytes, st.DataObject], bytes]


def anything(_: bytes, data: st.DataObject) -> bytes:
    return data.draw(st.binary(max_size=200))


def bytes_changed(sound: bytes, data: st.DataObject) -> bytes:
    """Cut a sound one short, and put other bytes in it."""
    changed = bytearray(sound[: data.draw(st.integers(0, len(sound)))] if data.draw(st.booleans()) else sound)
    rng = random.Random(data.draw(st.integers(0, 2**32)))
    for _ in range(data.draw(st.integers(0, 12)) if changed else 0):
        at = rng.randrange(len(changed)) if data.draw(st.booleans()) else rng.randrange(min(400, len(changed)))
        changed[at : at + rng.randrange(1, 9)] = rng.randbytes(rng.randrange(1, 9))
    return bytes(changed)


def _places(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    if path:
        yield path
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, one in items:
        yield from _places(one, (*path, key))


def _near(value: Any, data: st.DataObject) -> Any:
    """Return what is of the same kind and may well be taken, but is very large, very small, or none at all."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, int | float):
        return type(value)(value * data.draw(st.sampled_from([0, -1, 1, 2, 1e-3, 1e3, 1e-9, 1e9])))
    if isinstance(value, str):
        return data.draw(st.sampled_from([*MARKS, value * 2, value.upper(), value[:-1], f"{value} ", f"1{value}"]))
    if isinstance(value, list):
        return data.draw(st.sampled_from([value * 2, value[::-1], value[:1], value * 200]))
    return {}


def values_changed(whole: Any, data: st.DataObject) -> Any:
    """Put other values into a table, take some out, and add some."""
    changed = deepcopy(whole)
    for _ in range(data.draw(st.integers(1, 3))):
        places = list(_places(changed))
        if not places:
            break
        *above, last = data.draw(st.sampled_from(places))
        at = changed
        for key in above:
            at = at[key]
        how = data.draw(st.sampled_from(["near", "near", "near", "set", "set", "gone", "more"]))
        if how == "gone":
            del at[last]
        elif how == "near":
            at[last] = _near(at[last], data)
        elif how == "set" or not isinstance(at, dict):
            at[last] = data.draw(SCALARS)
        else:
            at[data.draw(PRINTED)] = data.draw(SCALARS)
    return changed


def toml_changed(sound: bytes, data: st.DataObject) -> bytes:
    if data.draw(st.integers(0, 4)) == 0:
        return bytes_changed(sound, data)
    try:
        return tomlkit.dumps(values_changed(tomllib.loads(sound.decode()), data)).encode(errors="surrogatepass")
    except (tomlkit.exceptions.TOMLKitError, UnicodeError, ValueError):
        return bytes_changed(sound, data)


def json_changed(sound: bytes, data: st.DataObject) -> bytes:
    if data.draw(st.integers(0, 4)) == 0:
        return bytes_changed(sound, data)
    return json.dumps(values_changed(json.loads(sound), data), default=str).encode()


# Who is given it


@contextmanager
def _file(data: bytes, name: str) -> Iterator[Path]:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(data)
        yield path


def from_file(read: Callable[[Path], object], name: str = "given") -> Read:
    def do(data: bytes) -> object:
        with _file(data, name) as path:
            return read(path)

    return do


def from_folder(read: Callable[[Path], object], name: str) -> Read:
    return from_file(lambda path: read(path.parent), name)


def _plan(data: bytes) -> object:
    return plan_from_text(data.decode(errors="replace"))


def _journal(folder: Path) -> object:
    return tell(read_contents(folder).entries, name="", running=False)


def _rows_changed(sound: bytes, data: st.DataObject) -> bytes:
    """Change what stands in a row of a journal, past the triggers that forbid it; or bytes of the file."""
    if data.draw(st.booleans()):
        return bytes_changed(sound, data)
    with _file(sound, JOURNAL_NAME) as path, closing(sqlite3.connect(path, isolation_level=None)) as db:
        for (name,) in db.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            db.execute(f"DROP TRIGGER {name}")
        seq, body = data.draw(st.sampled_from(db.execute("SELECT seq, body FROM records").fetchall()))
        changed = json.dumps(values_changed(json.loads(body), data), default=str)
        db.execute("PRAGMA ignore_check_constraints = ON")
        db.execute("UPDATE records SET body = ? WHERE seq = ?", (changed.encode().decode(errors="replace"), seq))
        kind = data.draw(st.sampled_from(["kind", "kind", "Noted", "LadderStarted", "no such kind"]))
        if kind != "kind":
            db.execute("UPDATE records SET kind = ? WHERE seq = ?", (kind, seq))
        return path.read_bytes()


@cache
def _outing() -> Path:
    root = Path(tempfile.mkdtemp(prefix="tether-readers-"))
    return work(root, f'{BASE}[rungs]\ntimes = ["1/125", "1/60"]\nframes = 1\n{SIX}').folder


def _sidecar(path: Path) -> object:
    return write_sidecar(path, {"Xmp.tether.A": "b"})


def _job() -> bytes:
    job = Job(
        plan_name="weir.toml",
        plan_text=PLAN.decode(),
        ladder=1,
        after_seq=0,
        pace=1.0,
        clock=CLOCK,
        boot="",
        world=World(),
        reach=SIMULATED,
        answer_for_me=True,
        despite={},
    )
    return job.model_dump_json().encode()


def _frame() -> bytes:
    return sorted((_outing() / "frames").iterdir())[0].read_bytes()


@cache
def _weir() -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        write_outing(Path(folder), weir())
        return (Path(folder) / JOURNAL_NAME).read_bytes()


PLAN = f"""{HEAD}{BASE}
[rungs]
times = ["1/125", "4m"]
order = "short first"
frames = 2
[limits]
aperture = ["f/4", "f/16"]
iso = [100, 1600]
[run]
settle_s = 60
leave_by = "21:30"
proof = false
[place]
latitude = 55.7
longitude = 13.2
{SIX}
[[region]]
kind = "water"
left = 0.1
bottom = 0.9
""".encode()
WORLD = b"""seed = 4
open_delay_s = 0.02
[sensor]
window_px = [240, 160]
[filters."Calder 6"]
stops = 6.1
cast_stops = [0.0, 0.1, 0.0]
[latency]
apply_s = 0.1
[[faults]]
what = "busy"
at_call = "apply"
for_s = 1.5
"""
BODY = b"""name = "My camera"
like = "canon-eos"
[times]
shortest = "1/8000"
longest = "30"
[isos]
lowest = "100"
highest = "6400"
base_iso = "100"
[hold]
can_hold = true
shortest_s = 0.3
[sensor]
pitch_um = 4.35
width_mm = 35.9
height_mm = 23.9
"""
CHOICES = b'schema = "tether-choices/1"\n[frame.3]\nchoice = "keep"\nstars = 4\nnote = "the one"\n'
SIDECAR = b"""<?xpacket begin="" id="W5M0MpCehiHzreSzNTczkc9d"?><x:xmpmeta xmlns:x="adobe:ns:meta/">
<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><rdf:Description rdf:about=""
 xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:xmp="http://ns.adobe.com/xap/1.0/" xmp:Rating="3">
<dc:subject><rdf:Bag><rdf:li>weir</rdf:li></rdf:Bag></dc:subject></rdf:Description></rdf:RDF></x:xmpmeta>
<?xpacket end="w"?>"""
STAMPS = stamps.Stamps(frame=3, way="held", asked_s=2.0, timebase="x", open_called_ns=5)
KNOWN = KnownBody(model="A", serial="B", usb_serial="", vendor="04a9", product="3250", place="1-1")
RUNNING = b'{"outing": "/o", "title": "Weir", "pids": {"guard": 1}, "socket": "/s"}'
HELLO = Hello(facts=FACTS, clock=CLOCK, snapshot=Snapshot())


def _as_json(record: Any) -> bytes:
    return json.dumps(dataclasses.asdict(record)).encode()


def _line(data: bytes) -> object:
    return unpack(_message(data))


READERS: dict[str, Reader] = {
    "a plan": Reader(_plan, lambda: PLAN, toml_changed),
    "a plan of any bytes": Reader(_plan, lambda: b"", anything),
    "a body file": Reader(from_file(lambda path: load_body_file(str(path)), "body.toml"), lambda: BODY, toml_changed),
    "a world": Reader(from_file(load_world, "world.toml"), lambda: WORLD, toml_changed),
    "a journal": Reader(from_folder(_journal, JOURNAL_NAME), _weir, _rows_changed),
    "a frame": Reader(from_file(read_raw, "a.dng"), _frame, bytes_changed),
    "a frame that arrived": Reader(from_file(check_frame, "a.dng"), _frame, bytes_changed),
    "a frame's Exif": Reader(from_file(read_exif, "a.dng"), _frame, bytes_changed),
    "a frame's preview": Reader(from_file(preview_of, "a.dng"), _frame, bytes_changed),
    "a sidecar": Reader(from_file(_sidecar, "a.xmp"), lambda: SIDECAR, bytes_changed),
    "choices": Reader(from_folder(read_choices, CHOICES_NAME), lambda: CHOICES, toml_changed),
    "a job": Reader(from_folder(read_job, JOB_NAME), _job, json_changed),
    "what a face asks": Reader(decode_request, lambda: encode_request(Say(to=3, verb="pause")), json_changed),
    "what a run tells": Reader(decode, lambda: encode(HELLO), json_changed),
    "what an editor is asked": Reader(decode_wish, lambda: wish(SetRegion(what="water", box=None), 4), json_changed),
    "what an editor tells": Reader(decode_news, lambda: wish(Begun(outing="/o")), json_changed),
    "how an editor is started": Reader(decode_start, lambda: wish(Start(path="weir.toml")), json_changed),
    "a line of the camera process": Reader(_line, lambda: json.dumps(pack(STAMPS)).encode(), json_changed),
    "stamps": Reader(from_file(stamps.read), lambda: _as_json(STAMPS), json_changed),
    "which body it was": Reader(from_folder(known.kept, known.NAME), lambda: _as_json(KNOWN), json_changed),
    "how a body was found": Reader(from_folder(found.kept, found.NAME), lambda: b'{"iso": "100"}', json_changed),
    "notes of runs": Reader(from_folder(_notes, "a.json"), lambda: RUNNING, json_changed),
}


def why_not(reader: Reader, given_it: bytes) -> str | None:
    """Return the sentence with which something is refused; None where it is read."""
    try:
        reader.read(given_it)
    except OURS as error:
        return str(error).strip()
    return None


def _try(reader: Reader, examples: int) -> None:
    @settings(max_examples=examples, suppress_health_check=list(HealthCheck), deadline=None, derandomize=True)
    @given(st.data())
    def reads_or_says_why(data: st.DataObject) -> None:
        assert why_not(reader, reader.change(reader.sound(), data)) != ""

    reads_or_says_why()


@pytest.mark.parametrize("name", READERS)
def test_it_reads_or_says_why_not(name: str) -> None:
    _try(READERS[name], FEW)


@pytest.mark.prove
@pytest.mark.timeout(600)
@pytest.mark.parametrize("name", READERS)
def test_it_reads_or_says_why_not_of_many(name: str) -> None:
    _try(READERS[name], MANY)


@pytest.mark.parametrize("name", [name for name, one in READERS.items() if one.change is not anything])
def test_what_is_changed_can_be_read_before(name: str) -> None:
    READERS[name].read(READERS[name].sound())
