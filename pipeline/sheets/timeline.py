"""When each step of a set-up is due, counted back from the first slot, in the order of a careful crew.

`setup_minutes` gives three of them, in minutes before the first slot: arrive, align, check. The others lie between by
fixed shares. Steps that need the Sun or the Moon are moved to where it can be seen, or say why they fall away.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

Stretch = tuple[dt.datetime, dt.datetime]
Condition = Literal["as planned", "moved", "not possible"]

# Shares of the time from arriving to aligning that have gone when each begins (judgement).
LEVEL_SHARE, CABLES_SHARE, CLOCK_SHARE, GROUND_SHARE, CHANGEOVER_SHARE = 0.1, 0.35, 0.5, 0.65, 0.8
# The weather is judged at the door, this long before arriving, and the rest in minutes.
WEATHER_MINUTES = 60
# Crews are ready this long before the first slot (common practice, no source).
READY_MINUTES = 20
GROUND_TAKES_MINUTES, ALIGN_TAKES_MINUTES, CHANGEOVER_TAKES_MINUTES = 5, 5, 5
SUN_TAKES_MINUTES, MOON_TAKES_MINUTES, ECHO_TAKES_MINUTES = 10, 5, 5
LOG_AFTER_MINUTES, PACK_AFTER_MINUTES, LEAVE_AFTER_MINUTES = 5, 15, 60
GRID_MINUTES = 5


@dataclass(frozen=True)
class Step:
    """One line of the timeline. `slot` counts from 0 for slots; `condition` is about Sun and Moon only."""

    kind: str
    start: dt.datetime
    end: dt.datetime | None = None
    condition: Condition = "as planned"
    slot: int | None = None


@dataclass(frozen=True)
class Frame:
    """The three instants of the policy, in order whatever the figures, and the first slot; all to the minute."""

    weather: dt.datetime
    arrive: dt.datetime
    align: dt.datetime
    check: dt.datetime
    first_slot: dt.datetime

    @property
    def ready(self) -> dt.datetime:
        """When all is proven, but never before the checks begin."""
        return max(self.check, self.first_slot - dt.timedelta(minutes=READY_MINUTES))

    def between(self, share: float) -> dt.datetime:
        """A share of the way from arriving to aligning, back to the full five minutes, never before arriving."""
        return max(self.arrive, grid(self.arrive + share * (self.align - self.arrive)))


def grid(moment: dt.datetime) -> dt.datetime:
    """Back to the full five minutes."""
    past = (moment - dt.datetime(2000, 1, 1, tzinfo=dt.UTC)) % dt.timedelta(minutes=GRID_MINUTES)
    return moment - past


def make_frame(first_slot: dt.datetime, arrive_minutes: float, align_minutes: float, check_minutes: float) -> Frame:
    """Arrive before align before check, even where the policy's figures say otherwise."""
    check_minutes = max(check_minutes, 0.0)
    align_minutes = max(align_minutes, check_minutes)
    arrive_minutes = max(arrive_minutes, align_minutes)
    weather, arrive, align, check = (
        (first_slot - dt.timedelta(minutes=minutes)).replace(second=0, microsecond=0)
        for minutes in (arrive_minutes + WEATHER_MINUTES, arrive_minutes, align_minutes, check_minutes)
    )
    return Frame(weather, arrive, align, check, first_slot)


def timeline(
    frame: Frame,
    slots: Sequence[Stretch],
    sun: Sequence[Stretch],
    moon: Sequence[Stretch],
    fall_backs: Sequence[Stretch] = (),
) -> tuple[Step, ...]:
    """All steps in order of time. `sun` and `moon` are the stretches in which each can be measured.

    The night ends after the last of its slots and of its fall-backs, for each of them may be used.

    A step that is not possible keeps its place in the order, so that its reason is read when it would be due.
    """
    ground = frame.between(GROUND_SHARE)
    sun_step = _sun(frame, sun, aligned_from(ground))
    moon_step = _moon(frame, moon, aligned_from(ground))
    echo_step = _echo(frame, moon, moon_step)
    align_step = _align(frame, sun_step, moon_step)
    steps = [
        Step("weather", frame.weather),
        Step("arrive", frame.arrive),
        Step("level", frame.between(LEVEL_SHARE)),
        Step("cables", frame.between(CABLES_SHARE)),
        Step("clock", frame.between(CLOCK_SHARE)),
        Step("ground", ground),
        _changeover(frame, align_step, sun_step),
        align_step,
        sun_step,
        moon_step,
        echo_step,
        Step("ready", frame.ready),
        *(Step("slot", start, end, slot=number) for number, (start, end) in enumerate(slots)),
        *_afterwards(max(end for _, end in (*slots, *fall_backs))),
    ]
    if echo_step.condition == "not possible":
        # Its reason is read after the Moon's noise, however late that was moved.
        steps[steps.index(echo_step)] = echo_step = replace(echo_step, start=max(echo_step.start, moon_step.start))
    # Stable: steps of one minute stay in the crew's order.
    return tuple(sorted(steps, key=lambda step: step.start))


def leaving(uses: Sequence[Stretch]) -> dt.datetime:
    """When the crew is packed, after all slots and fall-backs of the night."""
    return max(end for _, end in uses) + dt.timedelta(minutes=LEAVE_AFTER_MINUTES)


def aligned_from(ground: dt.datetime) -> dt.datetime:
    """The earliest instant at which the receiver is proven on the ground and the dish aligned."""
    return ground + dt.timedelta(minutes=GROUND_TAKES_MINUTES + ALIGN_TAKES_MINUTES)


def _align(frame: Frame, *checks: Step) -> Step:
    """Before the first check on Sun or Moon, where one had to be taken early."""
    takes = dt.timedelta(minutes=ALIGN_TAKES_MINUTES)
    early = [step.start - takes for step in checks if step.condition == "moved"]
    return Step("align", min([frame.align, *early]))


def _changeover(frame: Frame, align: Step, sun: Step) -> Step:
    """Before aligning; where the Sun had to be taken early, once that is done: it waits for nobody."""
    due = frame.between(CHANGEOVER_SHARE)
    is_early = sun.condition == "moved" and align.start < frame.align
    if is_early and align.start - dt.timedelta(minutes=CHANGEOVER_TAKES_MINUTES) < due:
        due = max(due, sun.start + dt.timedelta(minutes=SUN_TAKES_MINUTES))
    return Step("changeover", due)


def _afterwards(last: dt.datetime) -> list[Step]:
    return [
        Step("off", last),
        Step("log", last + dt.timedelta(minutes=LOG_AFTER_MINUTES)),
        Step("pack", last + dt.timedelta(minutes=PACK_AFTER_MINUTES)),
    ]


def _sun(frame: Frame, seen: Sequence[Stretch], earliest: dt.datetime) -> Step:
    """Halfway from aligning to checking; else as near to it as the Sun allows, once receiver and aim are proven."""
    due = max(frame.align, grid(frame.align + (frame.check - frame.align) / 2))
    return _placed("sun", due, due, min(earliest, due), frame.first_slot, seen, SUN_TAKES_MINUTES)


def _moon(frame: Frame, seen: Sequence[Stretch], earliest: dt.datetime) -> Step:
    due = frame.check
    return _placed("moon", due, due, min(earliest, due), frame.first_slot, seen, MOON_TAKES_MINUTES)


def _echo(frame: Frame, seen: Sequence[Stretch], after: Step) -> Step:
    """Halfway from the check's beginning to being ready, and after the Moon's noise where that was moved."""
    due = max(frame.check, grid(frame.check + (frame.ready - frame.check) / 2))
    if after.condition == "not possible":
        return Step("echo", due, condition="not possible")
    earliest = after.start + dt.timedelta(minutes=MOON_TAKES_MINUTES)
    # A set-up without time for two checks takes both at once.
    earliest = max(frame.check, min(earliest, due) if after.condition == "as planned" else earliest)
    return _placed("echo", due, max(due, earliest), earliest, frame.first_slot, seen, ECHO_TAKES_MINUTES)


def _placed(
    kind: str,
    due: dt.datetime,
    wanted: dt.datetime,
    earliest: dt.datetime,
    latest: dt.datetime,
    seen: Sequence[Stretch],
    takes_minutes: float,
) -> Step:
    """The step at the instant nearest to `wanted` from which it can run its minutes in one of the stretches.

    Where the policy leaves it less time than it takes, it takes what there is; where it fits nowhere it stays at `due`.
    """
    takes = min(dt.timedelta(minutes=takes_minutes), max(latest - due, dt.timedelta()))
    found = []
    for first, last in seen:
        begin, end = max(first, earliest), min(last, latest) - takes
        if begin <= end:
            found.append(min(max(wanted, begin), end))
    if not found:
        return Step(kind, due, condition="not possible")
    start = min(found, key=lambda moment: abs(moment - wanted))
    return Step(kind, start, condition="as planned" if start == wanted else "moved")
