"""A trial of one's own body at home: what it offers is set and read back, a few frames are made, all is measured."""

from __future__ import annotations

import statistics
import tempfile
from collections.abc import Iterable, Sequence
from math import log2
from pathlib import Path

from tether.body.bodyfile import BodyFile
from tether.body.protocol import BULB, Ended, Order, Settings
from tether.capture.session import CameraClient
from tether.capture.trial_result import FrameTried, OneSet, SetTried, Trial
from tether.checks.checks import see
from tether.clock import to_s
from tether.errors import LostError, TetherError
from tether.exposure.abilities import DIALS, Abilities
from tether.exposure.labels import parse_time
from tether.exposure.marks import Step, iso_marks, time_marks
from tether.files.exif import read_exif

#: How long the shutter is held open, shortest first [s]; the last is left out of a quick trial.
HOLDS_S = (2.0, 10.0, 60.0)
#: The time that is nearest to this is taken for the frame that the body times itself [s].
TIMED_S = 1.0

#: The widest and narrowest f-number of any lens, and of the one on a simulated camera.
ANY_LENS, SIMULATED_LENS = (0.7, 90.0), (2.8, 22.0)


def abilities_to_try(file: BodyFile) -> Abilities:
    """Return abilities by which everything that a body may offer has a label, whatever its file says of it."""
    times, isos = time_marks(file.times.step), iso_marks(file.isos.step)
    wide = {
        "times": file.times.model_copy(update={"shortest": times[0], "longest": times[-1]}),
        "isos": file.isos.model_copy(update={"lowest": isos[0], "highest": isos[-1]}),
    }
    return file.model_copy(update=wide).abilities(*ANY_LENS)


class Trying:
    """A trial in hand.

    Parameters
    ----------
    camera
        The open camera.

    Attributes
    ----------
    seen
        What the camera said at first.

    Raises
    ------
    TetherError
        If it does not answer.
    """

    def __init__(self, camera: CameraClient) -> None:
        self._camera, self._clock = camera, camera.clock
        self._began_ns = self._clock.now_ns()
        self.seen = see(camera.camera, camera.clock)

    # Settings

    def whole_list(self) -> tuple[Settings, ...]:
        """Return settings in which every value that the body offers stands once."""
        offers = self.seen.offers
        middle = self._middle()
        times = (*offers.times, *((BULB,) if offers.held_by else ()))
        return (
            *(Settings(time=label, aperture=middle.aperture, iso=middle.iso) for label in times),
            *(Settings(time=middle.time, aperture=label, iso=middle.iso) for label in offers.apertures),
            *(Settings(time=middle.time, aperture=middle.aperture, iso=label) for label in offers.isos),
        )

    def _middle(self) -> Settings:
        """Return settings to expose with at home: about a second, an aperture and an ISO from the lower middle."""
        offers = self.seen.offers
        return Settings(
            time=min(offers.times, key=_far_from_timed, default=BULB),
            aperture=offers.apertures[len(offers.apertures) // 2] if offers.apertures else "",
            iso=offers.isos[len(offers.isos) // 4] if offers.isos else "",
        )

    def set_all(self, wanted: Iterable[Settings]) -> SetTried:
        """Set and read back; what came otherwise is told."""
        otherwise: list[str] = []
        took_s: list[float] = []
        right: set[tuple[str, str]] = set()
        each: list[OneSet] = []
        for settings in wanted:
            began_ns = self._clock.now_ns()
            try:
                read = self._camera.apply(settings).settings
            except LostError:
                raise
            except TetherError as error:
                otherwise.append(f"{_words(settings)}: {error}")
                each.append(OneSet(asked=settings, said=str(error)))
                continue
            took_s.append(to_s(self._clock.now_ns() - began_ns))
            each.append(OneSet(asked=settings, read=read, took_s=took_s[-1]))
            for dial in DIALS:
                asked, got = getattr(settings, dial), getattr(read, dial)
                if got not in ("", asked):
                    otherwise.append(f"{_words(settings)}: it reads back {dial} {got}.")
                elif got:
                    right.add((dial, asked))
        return SetTried(
            count=len(took_s),
            median_s=statistics.median(took_s) if took_s else 0.0,
            otherwise=tuple(dict.fromkeys(otherwise)),
            right=frozenset(right),
            each=tuple(each),
        )

    # Frames

    def orders(self, holds_s: Sequence[float]) -> tuple[Order, ...]:
        """Return the frames to make: one that the body times by itself, then the holds, as far as it can."""
        offers = self.seen.offers
        timed = [Order(frame=1, way="timed", command_s=TIMED_S)] if offers.times else []
        held = holds_s if offers.held_by else ()
        return (*timed, *(Order(frame=number, way="held", command_s=s) for number, s in enumerate(held, start=2)))

    def make(self, order: Order) -> FrameTried:
        """Set the body, make one frame, bring its files to a place from which they go, and measure all of it."""
        middle = self._middle()
        time = middle.time if order.way == "timed" else BULB
        settings = Settings(time=time, aperture=middle.aperture, iso=middle.iso)
        try:
            read = self._camera.apply(settings)
            if order.way == "timed" and read.time_s is not None:
                order = Order(frame=order.frame, way="timed", command_s=read.time_s)
            ended = self._camera.expose(order)
            return self._fetched(order, ended, self._clock.now_ns())
        except TetherError as error:
            return FrameTried(way=order.way, asked_s=order.command_s, problem=str(error))

    def _fetched(self, order: Order, ended: Ended, ended_ns: int) -> FrameTried:
        file = self._camera.new_file()
        came_s = to_s(self._clock.now_ns() - ended_ns)
        with tempfile.TemporaryDirectory(prefix="tether-") as folder:
            began_ns = self._clock.now_ns()
            files = (file, *file.beside)
            sizes = [self._camera.fetch(one, Path(folder) / one.name) for one in files]
            fetch_s = to_s(self._clock.now_ns() - began_ns)
            exif_s = read_exif(Path(folder) / file.name).time_s
        opening = ended.opening
        return FrameTried(
            way=order.way,
            asked_s=order.command_s,
            held_s=opening.held_s if order.way == "held" else None,
            body_said_s=opening.body_said_s,
            exif_s=exif_s,
            open_call_s=to_s(opening.open_returned_ns - opening.open_called_ns),
            close_call_s=to_s(opening.close_returned_ns - opening.close_called_ns) if order.way == "held" else None,
            came_s=came_s,
            fetch_s=fetch_s,
            size_bytes=sum(sizes),
            files=len(sizes),
        )

    # The end

    def end(self, settings: SetTried, frames: Iterable[FrameTried]) -> Trial:
        """Set the body back as it was found, and return what came of it all."""
        status = self._camera.status()
        self._camera.put_back()
        return Trial(
            identity=self.seen.identity,
            looked=self.seen.looked,
            offers=self.seen.offers,
            settings=settings,
            frames=tuple(frames),
            battery=(self.seen.status.battery, status.battery),
            took_s=to_s(self._clock.now_ns() - self._began_ns),
            remarks=tuple(self._camera.remarks),
        )


def _far_from_timed(label: str) -> float:
    return abs(log2(parse_time(label, Step.THIRD).exact / TIMED_S))


def _words(settings: Settings) -> str:
    return ", ".join(part for part in (settings.time, settings.aperture, f"ISO {settings.iso}") if part)
