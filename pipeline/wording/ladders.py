"""The ladders in words: what each step asks, once for all slots, and its figure for one slot.

From the values of `operating.ladders`; sheet and telephone page take the same words.
"""

from __future__ import annotations

import datetime as dt
import math

from pipeline.inputs.modes import BY_EAR, Mode
from pipeline.operating.air_tonight import MOST_MM_PER_H, AirTonight
from pipeline.operating.ladders import SWEEP_SHARE, Do, Heard, Ladder, LadderFigures, Level
from pipeline.operating.other_spots import Holds, OtherSpot
from pipeline.operating.search import Trouble
from pipeline.operating.search_width import dial_step_hz
from pipeline.pairs.outcomes import OUTCOMES
from pipeline.wording import formats
from pipeline.wording.operating import kilohertz, megahertz, rounded_up
from pipeline.wording.safe_side import rounded, up

# Where nothing is agreed, both ends set the lowest tone to this pitch (common practice, no source).
PITCH_HZ = 1000

HEARD_WORDS = {
    Heard.ONLY_THEY: "They hear us, we do not hear them",
    Heard.ONLY_WE: "We hear them, they do not hear us",
    Heard.TRACES: "Traces, no decode",
    Heard.NOTHING: "Nothing either way",
}
STEP_WORDS = {
    Do.ASK_TO_KEEP_SENDING: "Ask them to keep sending, we listen",
    Do.KEEP_SENDING: "We keep sending, they listen",
    Do.WAIT_FOR_A_DECODE: "Wait for one of their periods",
    Do.CHECK_TURNS: "Clock and turns",
    Do.ASK_IF_THERE: "Ask: on the air? on the Moon?",
    Do.SEARCH: "Search around the dial",
    Do.OTHER_SPOTS: "Other spots, if they hold it",
    Do.TELL_THEIR_DIAL: "Tell them where to listen",
    Do.FOLLOW_THE_DRIFT: "Is it drift within a period?",
    Do.JUDGE_THE_SPREAD: "Is it the Moon's spread?",
    Do.PEAK_ON_MOON_NOISE: "Peak on Moon noise",
    Do.SWEEP_THE_AIM: "Sweep left, right, up, down",
    Do.JUDGE_OUR_AIM: "Our aim, by how loud they are",
    Do.CHECK_POWER: "Power at the feed",
    Do.CHECK_FEED: "Feed as the Dish sheet shows it",
    Do.CHECK_RECEIVER: "Receiver: ground against cold sky",
    Do.RING: "Ring, agree on the fall-back, by",
    Do.FALL_BACK: "Fall-back tonight",
    Do.PACK: "Pack, if no slot follows, from",
}
HOLDS_WORDS = {
    Holds.WHAT_IT_SENDS: "as they send it",
    Holds.AT_THE_MOON: "at the Moon",
    Holds.AT_ITS_OWN_END: "at their end",
}


def weaker_words(figures: LadderFigures) -> str:
    """Whose end was to be the weaker one, and by how much."""
    if math.isnan(figures.gap_db):
        return "not known: no common mode"
    if figures.weaker is None:
        return "both alike"
    return f"{'ours' if figures.weaker == 'home' else 'theirs'}, by {figures.gap_db:.0f} dB"


def odds_words(odds: float | None, figures: LadderFigures) -> str:
    """How likely it is after the first minutes; without figures, nothing."""
    if odds is None or math.isnan(odds):
        return ""
    return f"{formats.odds(odds)} after {figures.odds_after_min} min"


def ladder_lines(ladder: Ladder, figures: LadderFigures) -> tuple[str, ...]:
    """`How likely: 1 in 4 after 10 min`, then a line a step: what it asks, its figure, its minutes."""
    odds = odds_words(ladder.odds, figures)
    lines = [f"How likely: {odds}"] if odds else []
    for rung in ladder.rungs:
        told = ", ".join(filter(None, (figure_words(rung.do, figures), minutes_words(rung.minutes))))
        lines.append(": ".join(filter(None, (STEP_WORDS[rung.do], told))))
    return tuple(lines)


def minutes_words(minutes: int) -> str:
    """`3 min`; empty where a step takes none of its own."""
    return f"{minutes} min" if minutes else ""


def figure_words(do: Do, figures: LadderFigures) -> str:
    """The figure of a step in this slot; empty where it has none."""
    made = {
        Do.ASK_TO_KEEP_SENDING: lambda: _level_words(figures.home),
        Do.KEEP_SENDING: lambda: _level_words(figures.partner),
        Do.WAIT_FOR_A_DECODE: lambda: _level_words(figures.home),
        Do.CHECK_TURNS: lambda: _turns(figures),
        Do.SEARCH: lambda: _search(figures),
        Do.OTHER_SPOTS: lambda: ", ".join(spot_words(one) for one in figures.spots),
        Do.TELL_THEIR_DIAL: lambda: " to ".join(dict.fromkeys(megahertz(one) for one in figures.partner_receive_hz)),
        Do.FOLLOW_THE_DRIFT: lambda: _drift(figures),
        Do.JUDGE_THE_SPREAD: lambda: _spread(figures),
        Do.PEAK_ON_MOON_NOISE: lambda: f"expect +{figures.moon_rise_db or 0.0:.1f} dB",
        Do.SWEEP_THE_AIM: lambda: f"{formats.plain(round(figures.beamwidth_deg * SWEEP_SHARE, 1))}° each way: 3 dB",
        Do.JUDGE_OUR_AIM: lambda: _aim(figures),
        Do.CHECK_POWER: lambda: _power(figures),
        Do.CHECK_FEED: lambda: _feed(figures),
        Do.RING: lambda: formats.clock(figures.too_late),
        Do.FALL_BACK: lambda: _fall_back(figures),
        Do.PACK: lambda: formats.clock(
            max(figures.last_end, figures.fall_back[1] if figures.fall_back else figures.end)
        ),
    }
    return made[do]() if do in made else ""


def _level_words(level: Level) -> str:
    if math.isnan(level.margin_db):
        return ""
    if not level.is_enough:
        return f"{_down(level.margin_db)} dB: {level.periods} periods may bring none"
    return f"{formats.count(level.periods, 'period')} should bring one"


def _down(margin_db: float) -> str:
    """A margin rounded down, so that no more is promised than there is."""
    return formats.signed(rounded(margin_db, "down"), 0, plus=True)


def _turns(figures: LadderFigures) -> str:
    first = "we" if figures.opener == "home" else "they"
    return f"{first} first, {_second_clock(figures.first_start)}"


def _second_clock(moment: dt.datetime) -> str:
    return formats.clock(moment) + (f":{moment.second:02d}" if moment.second else "")


def _search(figures: LadderFigures) -> str:
    search = figures.search
    if search.settings == 1:
        return f"± {rounded_up(search.width_hz)}, one setting"
    return f"± {rounded_up(search.width_hz)} in {search.settings} settings"


def spot_words(spot: OtherSpot) -> str:
    """`10368.105 31 at the Moon`, at the slot's start."""
    return f"{megahertz(float(spot.receive_hz[0]))} {HOLDS_WORDS[spot.holds]}"


def spot_away_words(spot: OtherSpot) -> str:
    """`at the Moon, +6.22 kHz`: how far from the dial agreed, at the slot's start."""
    step = dial_step_hz(float(spot.receive_hz[0]))
    return f"{HOLDS_WORDS[spot.holds]}, {kilohertz(float(spot.away_hz[0]), step, plus=True)}"


def _drift(figures: LadderFigures) -> str:
    search, smear = figures.search, figures.smear
    if smear.by_ear:
        return f"no: {search.drift_hz:.0f} Hz, the ear follows"
    if Trouble.TONES_RUN_AWAY in search.troubles:
        return f"yes: turn {search.tone_spacing_hz:.0f} Hz every {search.turn_every_s} s"
    return f"no: {search.drift_hz:.0f} Hz on {search.tone_spacing_hz:.3g}"


def _spread(figures: LadderFigures) -> str:
    smear = figures.smear
    if math.isnan(smear.half_power_hz) or math.isnan(smear.loss_db):
        return ""
    against = f"{smear.half_power_hz:.0f} Hz on {smear.tone_spacing_hz:.3g}, {smear.loss_db:.1f} dB"
    return f"{'yes' if smear.explains else 'no'}: {against}"


def _aim(figures: LadderFigures) -> str:
    level = figures.home
    if math.isnan(level.report_db):
        return ""
    least = rounded(level.report_db - level.report_doubt_db, "down")
    return f"peak if under {formats.signed(least, 0)} dB"


def _power(figures: LadderFigures) -> str:
    level = figures.partner
    if math.isnan(level.margin_db):
        return ""
    if level.margin_db < 0.0:
        return f"{formats.plain(figures.power_w)} W, {up(-level.margin_db)} dB short"
    return f"{formats.plain(figures.power_w)} W; {up(figures.power_needed_w)} W would do"


def _feed(figures: LadderFigures) -> str:
    feed = figures.feed
    if math.isnan(feed.stands_db) or math.isnan(feed.turned_db) or not feed.matters:
        return "a turn changes nothing"
    return f"{feed.stands_db:.0f} dB lost, turned {feed.turned_db:.0f} dB"


def _fall_back(figures: LadderFigures) -> str:
    if figures.fall_back is None:
        return "none"
    return "–".join(formats.clock(one) for one in figures.fall_back)


# What is sent after what was heard (common practice, no source): whoever hears a step sends the next.
MESSAGES = (
    ("nothing yet", "both calls"),
    ("both calls", "both calls and our report"),
    ("both calls and their report", "R and our report"),
    ("R and their report", "all received"),
    ("all received", "thanks, and stop"),
)


def meaning_words(mode: Mode) -> str:
    """What a printed frequency is in a mode, and the pitch to expect."""
    if mode.mode == "CW":
        return "CW: the carrier, at your side tone's pitch."
    if mode.mode in BY_EAR:
        return f"{mode.mode}: the carrier, suppressed or not."
    return f"{mode.mode}: the dial in upper sideband (suppressed carrier); lowest tone at {PITCH_HZ} Hz unless agreed."


def rain_words(air: AirTonight | None) -> str:
    """`drops to marginal above 4 mm/h`; rates rounded down, so that none is trusted too long."""
    if air is None:
        return "no common mode"
    if air.word == OUTCOMES[-1]:
        return f"{air.word} in clear air"
    if air.falls_at_mm_per_h is None:
        return f"{air.word} up to {MOST_MM_PER_H} mm/h"
    rate = air.falls_at_mm_per_h
    shown = f"{rounded(rate, 'down', 0 if rate >= 10.0 else 1):g}"
    return f"drops to {air.worse} above {shown} mm/h"


def cloud_words(air: AirTonight | None) -> str:
    """What a thick cloud costs each way."""
    if air is None:
        return ""
    return f"{air.cloud_db:.1f} dB each way, Moon {air.elevation_deg:.0f}° up"
