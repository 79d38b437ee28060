"""What is told to the operator of a time that a partner proposed: both ends, the slot, what stands against it.

From the values of `agenda.proposal`; a line each. These lines may name other partners: no partner is shown them.
"""

from __future__ import annotations

import datetime as dt

from pipeline.agenda.proposal import Against, Judged
from pipeline.agenda.proposal_ends import EndThen, Free
from pipeline.agenda.proposal_others import Clash
from pipeline.record.model import CONFIRMED
from pipeline.windows.rules import HORIZON, MINIMUM_ELEVATION, MOUNT_ELEVATION
from pipeline.wording import formats

INDENT = "  "
HOME_FREE = {
    Free.AWAY: "a date on which you are away",
    Free.NIGHT_LEFT_OUT: "a night that your policy leaves out",
    Free.TOO_LATE: "later than your latest hour before a working day",
    Free.OUTSIDE_HOURS: "outside your hours",
    Free.INSIDE_HOURS: "inside your hours",
}
PARTNER_FREE = {
    Free.AWAY: "a date away, says its file",
    Free.OUTSIDE_HOURS: "outside the hours in its file",
    Free.INSIDE_HOURS: "inside its hours",
}


def proposal_lines(judged: Judged, limits: tuple[float, ...] = ()) -> list[str]:
    """All of it, a line each; `limits` are those of the outcome words, as in `formats.chance`."""
    call = judged.partner.station.call
    width = max(len(one.station.call) for one in (judged.partner, judged.home)) + 2
    lines = [f"{call}, {formats.day_long(judged.start.date())} {judged.start.year}, {formats.clock(judged.start)} UTC"]
    for end, free in ((judged.partner, _partner_free(judged.partner)), (judged.home, HOME_FREE[judged.home.free])):
        asleep = ", in the hours of sleep" if end.asleep else ""
        lines.append(f"{INDENT}{end.station.call:{width}}{_clock(judged, end)}: {free}{asleep}")
        lines.append(f"{INDENT}{'':{width}}{_moon(end, judged.chance is not None)}")
    lines += [f"{INDENT}{line}" for line in (_slot_words(judged, limits), *_night_words(judged))]
    lines += [f"{INDENT}Against it: {one}" for one in against_words(judged)]
    lines += [f"{INDENT}{one}" for one in _beside_words(judged)]
    if judged.is_wanted:
        lines.append(f"{INDENT}{_other_words(judged, limits)}")
    return lines


def _partner_free(end: EndThen) -> str:
    assumed = ", which are assumed" if end.station.available is None and end.free is not Free.AWAY else ""
    return PARTNER_FREE[end.free] + assumed


def _clock(judged: Judged, end: EndThen) -> str:
    """`Sat 13 Mar 21:00 to 22:00 (UTC+2)`; the start alone where there is no slot."""
    first, last = (moment.astimezone(end.zone) for moment in (judged.start, judged.end))
    offset = formats.offset(first.utcoffset())
    until = ""
    if judged.chance is not None:
        until = f" to {formats.local(last, end.zone, first.date())}"
        if last.utcoffset() != first.utcoffset():
            until += f" {formats.offset(last.utcoffset())}"
    sun = "" if end.station.time_zone else " by the mean Sun, no zone known"
    return f"{formats.day(first.date())} {formats.clock(first)}{until} ({offset}{sun})"


def _moon(end: EndThen, is_slot: bool) -> str:
    """Where the Moon stands, and the skyline there; both once more at the slot's end."""
    height, skyline = (formats.elevation(angle[0]) for angle in (end.elevation_deg, end.skyline_deg))
    unknown = ", which is assumed" if "horizon" in end.station.assumed else ""
    there = f"Moon at azimuth {formats.azimuth(end.azimuth_deg[0])}, elevation {height}; skyline {skyline}{unknown}"
    if not is_slot:
        return there
    height, skyline = (formats.elevation(angle[1]) for angle in (end.elevation_deg, end.skyline_deg))
    return f"{there}; at the end {height} over {skyline}"


def _slot_words(judged: Judged, limits: tuple[float, ...]) -> str:
    if judged.chance is None or judged.chance_met is None:
        return "No slot can begin then."
    if not judged.mode:
        return "No slot: both ends have no mode in common."
    minutes = round((judged.end - judged.start) / dt.timedelta(minutes=1))
    return (
        f"Slot {judged.label} of {formats.count(minutes, 'minute')} with {judged.mode}: chance"
        f" {formats.chance(judged.chance, limits)}, {formats.chance(judged.chance_met)} with presence counted"
    )


def _night_words(judged: Judged) -> list[str]:
    if judged.chance is None:
        return []
    if judged.is_new_night:
        others = formats.count(judged.nights_used, "other")
        return [f"It takes a night more: {formats.day(judged.night)}; the agenda has {others}."]
    return [f"You are set up that night: {formats.day(judged.night)}."]


def against_words(judged: Judged) -> list[str]:
    """What stands against it, a phrase each, for the operator."""
    home, partner = judged.home, judged.partner
    plain = {
        Against.NO_MODE: "both ends have no mode in common",
        Against.SUN: "the Sun is nearer to the Moon than your limit",
        Against.WEAK: "the chance is less than marginal",
        Against.NIGHT_FULL: "the slots that your policy allows that night are agreed or offered",
        Against.NIGHTS_USED: "the nights that your policy allows are agreed or offered",
        Against.ARRIVAL: "you would arrive outside your hours",
        Against.HOME_NOT_FREE: HOME_FREE[home.free],
    }
    words = []
    for one in judged.against:
        if one is Against.MOON:
            # Of several rules at one end the skyline comes first: it cannot be changed by a wish.
            hidden = [_hidden(end, *end.missed[0]) for end in (home, partner) if end.missed]
            words.append(f"the Moon is {formats.listed(hidden) or 'up at both ends for part of that minute only'}")
        elif one is Against.TAKEN:
            words += [_clash_words(clash, home.zone) for clash in judged.clashes if clash.promised]
        else:
            words.append(plain[one])
    return words


def verdict_words(judged: Judged, limits: tuple[float, ...] = ()) -> str:
    """`chance 95 %`, or what stands against it, in a phrase."""
    if judged.against or judged.chance is None:
        return formats.listed(against_words(judged))
    return f"chance {formats.chance(judged.chance, limits)}"


def _hidden(end: EndThen, rule: int, short_deg: float) -> str:
    call, short = end.station.call, f"{short_deg:.1f}°"
    if rule == HORIZON and end.elevation_deg[0] < 0.0:
        return f"{-end.elevation_deg[0]:.1f}° below the horizon of {call}"
    if rule == HORIZON:
        return f"{short} behind the skyline of {call}"
    if rule == MINIMUM_ELEVATION:
        return f"{short} below the minimum elevation of {call} ({end.station.minimum_elevation_deg:g}°)"
    if rule == MOUNT_ELEVATION:
        return f"{short} higher than the mount of {call} reaches"
    return f"{short} outside the reach of the mount of {call}"


def _clash_words(clash: Clash, zone: dt.tzinfo) -> str:
    when = formats.slot_span(clash.start, clash.end, zone)
    who = f"{clash.call} {clash.label}, {clash.state}" if clash.call else "a slot agreed outside this plan"
    how = "at the same time" if clash.overlaps else "too near to it"
    offered = "" if clash.state == CONFIRMED or not clash.promised else " and in its partner's hands"
    return f"{who}{offered}, {when} your time, is {how}"


def _beside_words(judged: Judged) -> list[str]:
    """What else the operator should know: slots that would give way, the partner's own slots, what is wished."""
    zone, call = judged.home.zone, judged.partner.station.call
    words = [
        f"{clash.call} {clash.label}, {formats.slot_span(clash.start, clash.end, zone)} your time, is planned and not"
        " offered yet: the next plan moves it."
        for clash in judged.clashes
        if not clash.promised
    ]
    if judged.agreed:
        words.append(f"It is agreed already, as slot {judged.label}.")
    if judged.before is not None:
        words.append(f"Slot {judged.label} moves here; before: {formats.slot_span(*judged.before, zone)} your time.")
    words += [
        f"{call} {one.label} stands besides, {one.state}: {formats.slot_span(one.start, one.end, zone)} your time"
        + (f"; --instead {one.label} moves it here." if judged.is_possible and not judged.agreed else ".")
        for one in judged.own
    ]
    if not judged.is_wanted:
        words.append(f"No further contact with {call} is wanted.")
    return words


def _other_words(judged: Judged, limits: tuple[float, ...]) -> str:
    word = "possible" if judged.against else "better"
    if judged.other is None:
        return f"No {'other' if judged.against else word} time in this plan is free for both."
    other = judged.other
    there, here = (formats.slot_span(other.start, other.end, end.zone) for end in (judged.partner, judged.home))
    return (
        f"Nearest {word} time: {there} there, {here} your time, {formats.clock(other.start)} UTC: chance"
        f" {formats.chance(other.chance, limits)}"
    )
