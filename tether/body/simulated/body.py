"""A simulated body that behaves like a camera: it takes time, keeps state, tells half the truth, and can fail.

Nothing heavy runs while a shutter is open: an exposure is a small record, and its picture is made when it is fetched.

What it does about the end of an exposure: a timed frame shuts at its time; a held one at the close command; either
when the battery dies. A body that vanished from the bus keeps its shutter open until it is back and told to close, or
until the world's `vanish_closes_s`; the frame is on the card in every case. All of this also holds for a shutter that
was left open by a process that is gone: the next one to open the folder finds it as it would be.
"""

from __future__ import annotations

import os
from dataclasses import asdict, replace
from pathlib import Path

import numpy as np

from tether.body.protocol import (
    BULB,
    MOST_NUDGES,
    CardFile,
    Finding,
    Identity,
    LiveOffers,
    LivePicture,
    Offers,
    ReadBack,
    SceneChange,
    Settings,
    Status,
)
from tether.body.simulated.card import CardExposure, CardFolder, EndedBy, SimulatedShutter, Spell, State
from tether.body.simulated.dials import Dials
from tether.body.simulated.faults import Call, Fault, Troubles, What
from tether.body.simulated.frame import identity_of, write_frame
from tether.body.simulated.live import LONGEST_S, TIMES, live_jpeg
from tether.body.simulated.world import World
from tether.clock import Clock, to_ns, to_s
from tether.errors import BusyError, CameraError, LostError, SupplyError
from tether.exposure.abilities import DIALS, Abilities, Dial
from tether.files.errors import disk_sentences

#: The body takes a dark frame after exposures from this time on [s], where it does so at all.
DARK_FRAME_FROM_S = 1.0
#: Part of a file that a cut-short fetch brings.
TRUNCATED_SHARE = 0.6
#: How far a nudge moves the focus, as the blur that this makes [px]. Own choice.
NUDGE_PX = 0.5


class SimulatedBody:
    """A body without a camera; see the module. Owned by one thread.

    Parameters
    ----------
    abilities
        What it offers.
    world
        What is true of it and around it.
    folder
        Where its card and state are kept; made if need be. One process at a time may use it.
    clock
        All waiting goes through it. The world begins at its first reading in a new folder.
    """

    def __init__(self, abilities: Abilities, world: World, folder: Path, clock: Clock) -> None:
        self._abilities = abilities
        self._world = world
        self._clock = clock
        self._dials = Dials(abilities)
        self._folder = CardFolder(folder)
        self._left = False
        self._state = self._folder.load() or self._new_state()
        self._origin_ns = self._origin()
        self._troubles = Troubles(world.faults, self._state.struck)
        self._exposures = {exposure.number: exposure for exposure in self._folder.exposures()}
        if clock.now_ns() < self._state.seen_clock_ns:
            self._write_all_out()
        self._delivered = {exposure.number for exposure in self._on_card()}
        if world.sun:
            self._note("light", self._now_ns(), **world.model_dump(mode="json", include={"sun", "clouds"}))
        self._save()

    # Identity, settings, status

    def identify(self) -> Identity:
        self._answer()
        return identity_of(self._world)

    def read_back(self) -> ReadBack:
        self._answer()
        return self._dials.read_back(self._state.shown)

    def apply(self, wanted: Settings) -> ReadBack:
        self._command("apply")
        self._switch_live(on=False)
        for dial in DIALS:
            label = getattr(wanted, dial)
            # A label that is shown but not in force is set anew, so that a lie lasts no longer than one frame.
            if not label == getattr(self._state.shown, dial) == getattr(self._state.in_force, dial):
                self._set(dial, label)
        return self._dials.read_back(self._state.shown)

    def put_back(self) -> tuple[str, ...]:
        self._command("apply")
        self._switch_live(on=False)
        for dial in DIALS:
            if getattr(self._state.shown, dial) != getattr(self._state.found, dial):
                self._set(dial, getattr(self._state.found, dial))
        return ()

    def offers(self) -> Offers:
        self._answer()
        return Offers(
            times=tuple(mark.label for mark in self._abilities.times),
            apertures=tuple(mark.label for mark in self._abilities.apertures),
            isos=tuple(mark.label for mark in self._abilities.isos),
            held_by="bulb" if self._abilities.can_hold else None,
            why_not_held=None if self._abilities.can_hold else "This simulated body has no way to hold its shutter.",
            live=LiveOffers(why_no_picture=None, why_not_magnified=None, why_not_nudged=None),
        )

    def look(self) -> tuple[Finding, ...]:
        self._answer()
        return (Finding(what="body", verdict="ok", sentence="A simulated body stands as it should."),)

    def status(self) -> Status:
        self._answer()
        return Status(
            battery=max(0.0, self._state.battery),
            card_frames_left=self._frames_left(),
            temperature_c=self._world.temperature_c,
            busy=self._state.shutter is not None or self._now_ns() < self._state.busy_until_ns,
        )

    # Exposing

    def take(self) -> None:
        self.trigger()
        shutter = self._state.shutter
        if shutter is not None:
            self._wait_until(self._stirs_ns(shutter))
        self._answer()

    def trigger(self, at_ns: int | None = None) -> None:
        """Begin a timed frame and return at once; `at_ns` is when the command came (None: now)."""
        called_ns = self._called_ns(at_ns)
        self._command("take")
        self._require_supplies()
        label = self._state.in_force.time
        if label == BULB:
            raise CameraError("The time is on bulb: a frame can be taken by holding the shutter, or set a time first.")
        self._open(called_ns, self._true_time_s(label))

    def turn(self, dial: Dial, label: str) -> None:
        """Set one value alone. Raises as :meth:`apply`."""
        self._command("apply")
        self._set(dial, label)

    def prepare(self) -> None:
        pass

    def attend(self, free_until_ns: int | None) -> None:
        pass

    def close_later_ns(self, open_took_ns: int) -> int:  # noqa: ARG002 - its commands go out when they are called
        return 0

    def said_open_s(self) -> float | None:
        return None

    def open_shutter(self, at_ns: int | None = None) -> None:
        called_ns = self._called_ns(at_ns)
        self._command("open")
        self._require_supplies()
        time = self._state.in_force.time
        if self._state.shown.time != BULB:
            raise CameraError(f"The time is on {time}; set it to {BULB} to hold the shutter open.")
        if late := self._strikes("opens late", frame=self._state.made + 1):
            self._wait(late.for_s)
            called_ns = self._now_ns()
        # A body whose dial is not where it says makes a frame of its dial's time.
        self._open(called_ns, None if time == BULB else self._true_time_s(time))
        self._wait(self._world.latency.accept_s)

    def close_shutter(self, at_ns: int | None = None) -> None:
        called_ns = self._called_ns(at_ns)
        self._answer()
        self._may_fail("close", self._state.made)
        shutter, shuts_ns = self._state.shutter, called_ns
        if shutter is not None and shutter.settings.time == BULB:
            delay_s = self._world.close_delay_s + self._jitters_s(shutter.number)[1]
            shuts_ns = max(called_ns + to_ns(delay_s), shutter.opens_ns)
            self._finish(shutter, shuts_ns, "command")
        self._wait_until(max(shuts_ns, called_ns + to_ns(self._world.latency.accept_s)))

    # Files

    def new_files(self, expected: int, allow_s: float) -> tuple[CardFile, ...]:
        self._answer()
        self._may_fail("files", self._state.made)
        until_ns = self._now_ns() + to_ns(allow_s)
        shutter = self._state.shutter
        if expected and shutter is not None and shutter.ends_ns is not None:
            self._wait_until(min(shutter.ends_ns, until_ns))
            self._catch_up()
        coming = sorted(self._exposures[number].ready_ns for number in self._exposures.keys() - self._delivered)
        if len(coming) >= expected > 0:
            until_ns = min(until_ns, coming[expected - 1])
        if sum(ready_ns <= self._now_ns() for ready_ns in coming) < expected:
            self._wait_until(until_ns)
        here = [exposure for exposure in self._on_card() if exposure.number not in self._delivered]
        self._delivered.update(exposure.number for exposure in here)
        return tuple(exposure.file for exposure in here)

    def card_files(self) -> tuple[CardFile, ...]:
        self._answer()
        self._require_shut("The card can be listed")
        self._may_fail("files", self._state.made)
        return tuple(exposure.file for exposure in self._on_card())

    def fetch(self, file: CardFile, into: Path) -> int:
        began_ns = self._now_ns()
        self._answer()
        self._require_shut("Files can be copied")
        exposure = next((exposure for exposure in self._on_card() if exposure.file.name == file.name), None)
        if exposure is None:
            raise CameraError(f"There is no {file.name} on the card.")
        self._may_fail("fetch", exposure.number)
        write_frame(exposure, self._world, self._abilities, into)
        size = into.stat().st_size
        self._wait_until(began_ns + to_ns(size / self._world.latency.bytes_per_s))
        if self._strikes("truncates", frame=exposure.number):
            size = round(size * TRUNCATED_SHARE)
            os.truncate(into, size)
        return size

    # Live view

    def live(self, into: Path, at: tuple[float, float] | None) -> LivePicture:
        data = self.live_jpeg(at)
        with disk_sentences(into):
            into.write_bytes(data)
        return LivePicture(times=1.0 if at is None else TIMES)

    def live_on(self) -> None:
        """Switch live view on. Raises as :meth:`live`."""
        self._require_free()
        self._switch_live(on=True)

    def live_jpeg(self, at: tuple[float, float] | None) -> bytes:
        """Return a live picture as JPEG. Raises as :meth:`live`."""
        self.live_on()
        now_s = to_s(self._now_ns())
        now = self._spell(now_s, now_s + LONGEST_S)
        return live_jpeg(now, self._state.made + 1, self._world, self._abilities, at)

    def live_off(self) -> None:
        self._answer()
        self._require_shut("Live view can be switched off")
        self._switch_live(on=False)

    def nudge_focus(self, steps: int) -> None:
        if abs(steps) > MOST_NUDGES:
            raise CameraError(f"The focus can be nudged by {MOST_NUDGES} steps at a time at most, not by {steps}.")
        self.live_on()
        self._state.focus_off_px += steps * NUDGE_PX
        self._note("focus", self._now_ns(), off_px=self._state.focus_off_px)
        self._save()

    def _switch_live(self, *, on: bool) -> None:
        if self._state.live != on:
            self._state.live = on
            self._note("live", self._now_ns(), on=on)
            self._save()

    # What an onlooker sees, whatever troubles the body has

    @property
    def made(self) -> int:
        """Exposures so far; the number of the last."""
        return self._state.made

    @property
    def in_force(self) -> Settings:
        """The labels that are really in force, whatever is shown."""
        return self._state.in_force

    @property
    def shows_live(self) -> bool:
        """Whether live view is on."""
        return self._state.live

    def shutter(self) -> SimulatedShutter | None:
        """Return the shutter that is open now, if it is."""
        self._catch_up()
        return self._state.shutter

    def held_s(self) -> float | None:
        """Return how long the shutter has been held open by now [s]; None where it is not."""
        shutter = self.shutter()
        if shutter is None or shutter.settings.time != BULB:
            return None
        return to_s(max(self._now_ns() - shutter.opens_ns, 0))

    def answers(self) -> bool:
        """Return whether it is on the bus and has a battery."""
        try:
            self._answer()
        except (LostError, SupplyError):
            return False
        return True

    def on_card(self) -> tuple[CardFile, ...]:
        """Return the files that are on the card now, oldest first."""
        self._catch_up()
        return tuple(exposure.file for exposure in self._on_card())

    def develop(self, file: CardFile, into: Path) -> None:
        """Make a file that is on the card, at once and whole; any thread may call this."""
        write_frame(self._exposures[file.number or 0], self._world, self._abilities, into)

    # The person at the tripod

    def stage(self, change: SceneChange) -> None:
        self._catch_up()
        state = self._state
        if state.shutter is not None:
            state.shutter = self._new_spell(state.shutter)
        if change.fitted is not None:
            state.fitted = change.fitted
        if change.capped is not None:
            state.capped = change.capped
        if change.knock_px is not None:
            right, down = change.knock_px
            state.knock_px = state.knock_px[0] + right, state.knock_px[1] + down
        if change.new_battery:
            state.battery = 1.0
        if change.new_card:
            state.card_from = state.made
        self._note("staged", self._now_ns(), fitted=[f.name for f in state.fitted], capped=state.capped)
        self._save()

    def leave(self) -> None:
        if not self._left:
            self._switch_live(on=False)
        self._left = True

    # Time

    def _now_ns(self) -> int:
        return self._clock.now_ns() - self._origin_ns

    def _called_ns(self, at_ns: int | None) -> int:
        return self._now_ns() if at_ns is None else at_ns - self._origin_ns

    def _wait_until(self, at_ns: int) -> None:
        self._clock.wait_until(at_ns + self._origin_ns)

    def _wait(self, seconds: float) -> None:
        if seconds > 0:
            self._wait_until(self._now_ns() + to_ns(seconds))

    def _origin(self) -> int:
        """Return the clock's reading at world time zero; a clock that was set back goes on where the world was left."""
        state, now_ns = self._state, self._clock.now_ns()
        if now_ns < state.seen_clock_ns:
            return state.origin_ns + now_ns - state.seen_clock_ns
        return state.origin_ns

    # State

    def _new_state(self) -> State:
        now_ns, dials = self._clock.now_ns(), self._dials.first()
        return State(
            origin_ns=now_ns,
            seen_clock_ns=now_ns,
            in_force=dials,
            shown=dials,
            found=dials,
            fitted=self._world.base.always_on,
            focus_off_px=self._world.focus_off_px,
            battery=self._world.battery,
        )

    def _write_all_out(self) -> None:
        """Have every frame on the card: however long the body was left alone, its card was written meanwhile."""
        for number, exposure in self._exposures.items():
            if exposure.ready_ns > self._now_ns():
                self._exposures[number] = exposure.model_copy(update={"ready_ns": self._now_ns()})
                self._folder.keep(self._exposures[number])

    def _save(self) -> None:
        self._state.origin_ns, self._state.seen_clock_ns = self._origin_ns, self._clock.now_ns()
        self._folder.save(self._state)

    def _note(self, what: str, at_ns: int, **facts: object) -> None:
        self._folder.note(what, at_ns=at_ns + self._origin_ns, **facts)

    def _strikes(
        self, what: What, *, frame: int, call: Call | None = None, setting: Dial | None = None
    ) -> Fault | None:
        """Return the fault that strikes now, if any, and keep that it has struck."""
        fault = self._troubles.strikes(what, frame=frame, call=call, setting=setting)
        if fault is not None:
            self._save()
        return fault

    # Whether it answers

    def _answer(self) -> None:
        """Let what is over be over, and raise where the body can't answer at all."""
        self._catch_up()
        now_ns = self._now_ns()
        if self._left:
            raise LostError("The session with the simulated body is over; connect anew.")
        if self._state.gone_from_ns <= now_ns < self._state.gone_until_ns:
            raise LostError("The simulated body does not answer: it has gone from the bus. Look at cable and body.")
        if self._state.battery <= 0:
            raise SupplyError("The battery of the simulated body is empty; change it.")

    def _command(self, call: Call) -> None:
        """Raise where the body does not take a command now."""
        self._answer()
        self._require_shut("Commands are taken")
        frame = self._state.made + 1
        if fault := self._strikes("busy", frame=frame, call=call):
            self._state.busy_until_ns = max(self._state.busy_until_ns, self._now_ns() + to_ns(fault.for_s))
            self._save()
            raise BusyError(f"The simulated body is busy for {fault.for_s:g} s; wait and try again.")
        self._require_free()
        self._may_fail(call, frame)

    def _require_free(self) -> None:
        """Raise where the body does not answer, or works on a frame."""
        self._answer()
        self._require_shut("This can be done")
        left_s = to_s(self._state.busy_until_ns - self._now_ns())
        if left_s > 0:
            raise BusyError(f"The simulated body is busy for another {left_s:.1f} s; wait and try again.")

    def _may_fail(self, call: Call, frame: int) -> None:
        if fault := self._strikes("times out", frame=frame, call=call):
            self._wait(fault.for_s)
            raise BusyError(f"The simulated body did not answer within {fault.for_s:g} s; wait and try again.")

    def _require_shut(self, what: str) -> None:
        if self._state.shutter is not None:
            raise BusyError(f"The shutter of the simulated body is open. {what} when it is shut.")

    def _require_supplies(self) -> None:
        if self._strikes("card full", frame=self._state.made + 1) or self._frames_left() <= 0:
            raise SupplyError("The card of the simulated body is full; change or clear it.")

    def _frames_left(self) -> int:
        on_card = sum(number > self._state.card_from for number in self._exposures)
        return self._world.card_frames - on_card

    def _on_card(self) -> list[CardExposure]:
        now_ns = self._now_ns()
        return [
            exposure
            for number, exposure in sorted(self._exposures.items())
            if exposure.ready_ns <= now_ns and number > self._state.card_from
        ]

    # Settings

    def _set(self, dial: Dial, label: str) -> None:
        """Set one value, or what a fault makes of it."""
        state, frame = self._state, self._state.made + 1
        refused = self._strikes("refuses", frame=frame, setting=dial) is not None
        if refused or not self._dials.offers(dial, label):
            raise self._dials.refusal(dial, label)
        self._wait(self._world.latency.apply_s)
        if self._strikes("takes another", frame=frame, setting=dial):
            label = self._dials.beside(dial, label)
        if not self._strikes("keeps the old", frame=frame, setting=dial):
            state.in_force = replace(state.in_force, **{dial: label})
        state.shown = replace(state.shown, **{dial: label})
        self._note("set", self._now_ns(), dial=dial, label=getattr(state.in_force, dial), shown=label)
        self._save()

    # The shutter

    def _true_time_s(self, label: str) -> float:
        return self._world.true_times_s.get(label, self._dials.exact("time", label))

    def _jitters_s(self, number: int) -> tuple[float, float]:
        """Return by how much this exposure's opening and closing are off their delays [s]."""
        rng = np.random.default_rng([self._world.seed, 5, number])
        opening, closing = self._world.delay_jitter_s * rng.uniform(-1, 1, 2)
        return float(opening), float(closing)

    def _open(self, called_ns: int, open_s: float | None) -> SimulatedShutter:
        """Open the shutter: for a time of the body's own, or (None) until it is told to close."""
        state, number = self._state, self._state.made + 1
        self._switch_live(on=False)
        opens_ns = called_ns + max(0, to_ns(self._world.open_delay_s + self._jitters_s(number)[0]))
        ends_ns, ended_by = self._end_without_command(number, opens_ns, open_s)
        state.made = number
        state.shutter = SimulatedShutter(
            number=number,
            settings=state.in_force,
            opens_ns=opens_ns,
            opened_utc=self._clock.utc_of(opens_ns + self._origin_ns),
            ends_ns=ends_ns,
            ended_by=ended_by,
            spells=(),
            since_ns=opens_ns,
        )
        self._note("opened", opens_ns, frame=number, called_ns=called_ns + self._origin_ns, **asdict(state.in_force))
        self._save()
        return state.shutter

    def _end_without_command(self, number: int, opens_ns: int, open_s: float | None) -> tuple[int | None, EndedBy]:
        """Return when and why the shutter will shut by itself, whichever comes first; None: never."""
        ends: list[tuple[int, EndedBy]] = []
        if open_s is not None:
            ends.append((opens_ns + to_ns(open_s), "time"))
        if self._world.battery_per_s > 0:
            ends.append((opens_ns + to_ns(self._state.battery / self._world.battery_per_s), "battery"))
        if open_s is None and (fault := self._strikes("shuts early", frame=number)):
            ends.append((opens_ns + to_ns(fault.after_s), "body"))
        if fault := self._strikes("battery dies", frame=number):
            ends.append((opens_ns + to_ns(fault.after_s), "battery"))
        if fault := self._strikes("vanishes", frame=number):
            self._state.gone_from_ns = opens_ns + to_ns(fault.after_s)
            self._state.gone_until_ns = self._state.gone_from_ns + to_ns(fault.for_s)
            if self._world.vanish_closes_s is not None:
                ends.append((self._state.gone_from_ns + to_ns(self._world.vanish_closes_s), "body"))
        return min(ends) if ends else (None, "command")

    def _stirs_ns(self, shutter: SimulatedShutter) -> int:
        """Return when a timed exposure is over or the body leaves the bus, whichever comes first."""
        moments = [self._state.gone_from_ns] if self._state.gone_until_ns > self._now_ns() else []
        return min(moments if shutter.ends_ns is None else [*moments, shutter.ends_ns])

    def _catch_up(self) -> None:
        """End an exposure that has ended by itself by now."""
        shutter = self._state.shutter
        if shutter is not None and shutter.ends_ns is not None and shutter.ends_ns <= self._now_ns():
            self._finish(shutter, shutter.ends_ns, shutter.ended_by)

    def _spell(self, start_s: float, end_s: float) -> Spell:
        """Return a stretch of world time with what is now in front of the sensor."""
        state = self._state
        return Spell(
            start_s=start_s,
            end_s=end_s,
            fitted=state.fitted,
            capped=state.capped,
            knock_px=state.knock_px,
            focus_off_px=state.focus_off_px,
            start_utc=self._clock.utc_of(to_ns(start_s) + self._origin_ns),
        )

    def _new_spell(self, shutter: SimulatedShutter) -> SimulatedShutter:
        """Begin a new spell of an exposure, because something in front of the lens is about to change."""
        now_ns = max(self._now_ns(), shutter.since_ns)
        spells = (*shutter.spells, self._spell(to_s(shutter.since_ns), to_s(now_ns)))
        return shutter.model_copy(update={"spells": spells, "since_ns": now_ns})

    def _finish(self, shutter: SimulatedShutter, end_ns: int, ended_by: EndedBy) -> None:
        """Shut the shutter and put the exposure on the card; one that never opened leaves no frame."""
        state, world, number = self._state, self._world, shutter.number
        spells = (*shutter.spells, self._spell(to_s(shutter.since_ns), to_s(max(end_ns, shutter.since_ns))))
        open_s = spells[-1].end_s - spells[0].start_s
        less_dark = world.dark_frame_by_body and open_s >= DARK_FRAME_FROM_S
        done_ns = end_ns + (to_ns(open_s) if less_dark else 0)
        if open_s > 0:
            self._exposures[number] = self._exposure(shutter, spells, less_dark, done_ns)
            self._folder.keep(self._exposures[number])
        state.shutter, state.busy_until_ns = None, max(state.busy_until_ns, done_ns)
        spent = world.battery_per_s * open_s + world.battery_per_frame
        state.battery = 0.0 if ended_by == "battery" else state.battery - spent
        self._note("closed", end_ns, frame=number, open_s=open_s, ended_by=ended_by)
        self._save()

    def _exposure(
        self, shutter: SimulatedShutter, spells: tuple[Spell, ...], less_dark: bool, done_ns: int
    ) -> CardExposure:
        """Return the record of an exposure that is over; its file is there a while after `done_ns`."""
        settings, open_s = shutter.settings, spells[-1].end_s - spells[0].start_s
        told_s = open_s
        if settings.time != BULB and self._world.exif_time == "label":
            told_s = self._dials.exact("time", settings.time)
        elif settings.time == BULB and self._world.exif_held_whole:
            told_s = max(float(int(open_s)), 1.0)
        late = self._strikes("delivers late", frame=shutter.number)
        return CardExposure(
            number=shutter.number,
            settings=settings,
            aperture=self._dials.exact("aperture", settings.aperture),
            iso=self._dials.exact("iso", settings.iso),
            opened_utc=shutter.opened_utc,
            spells=spells,
            temperature_c=self._world.temperature_c,
            less_dark=less_dark,
            exif_time_s=told_s,
            ready_ns=done_ns + to_ns(self._world.latency.card_s + (late.for_s if late else 0)),
        )
