"""What letters and sheets say of dials, turns, the search and answers that are still open.

From the values of `operating`; how a frequency is printed stands here: 10 Hz from 3 GHz, 1 Hz below.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from pipeline.inputs.modes import BY_EAR, Mode
from pipeline.operating.search import FOUND_WITHIN_HZ, Search, Trouble
from pipeline.operating.search_width import dial_step_hz
from pipeline.operating.turns import MINUTE_S, End, Turns
from pipeline.plan.views import Slot
from pipeline.wording import formats, phrases, sentences
from pipeline.wording.safe_side import rounded, up
from pipeline.wording.speech import ENGLISH_SPEECH, Speech

HOUR_S = 3600.0
NO_BREAK = "\N{NO-BREAK SPACE}"
# More names than this fill the head of the page and tell nothing; each slot says it too.
MOST_NAMED = 4
TITLE = re.compile(r"(?P<mode>.+), (?P<period>[\d.]+) s periods(, tones (?P<spacing>[\d.e+]+) Hz apart)?")


def turn_words(turns: Turns, end: End, speech: Speech = ENGLISH_SPEECH) -> str:
    """When an end sends, after "sends": `on even minutes (0, 2, 4 ...)`."""
    period_s, start_s = turns.period_s, turns.start_s(end)
    cycle = 2 * period_s
    if period_s == MINUTE_S:
        return speech.say(sentences.MINUTES_ODD if start_s else sentences.MINUTES_EVEN)
    if MINUTE_S % cycle == 0:
        starts = [start_s + cycle * number for number in range(int(MINUTE_S // cycle))]
        if len(starts) == 1:
            return speech.say(sentences.SECONDS, start=f"{starts[0]:g}", end=f"{starts[0] + period_s:g}")
        each = speech.listed([f"{s:g}" for s in starts])
        return speech.say(sentences.SECONDS_EACH, period=f"{period_s:g}", starts=each)
    if cycle % MINUTE_S == 0 and period_s % MINUTE_S == 0 and HOUR_S % cycle == 0:
        first = ", ".join(f"{(start_s + cycle * number) / MINUTE_S:g}" for number in range(3))
        return speech.say(sentences.MINUTES_LONG, minutes=f"{period_s / MINUTE_S:g}", starts=first)
    return speech.say(sentences.SECOND_OF_TWO if start_s else sentences.FIRST_OF_TWO, period=f"{period_s:g}")


def mode_title(mode: Mode, speech: Speech) -> str:
    """`Q65, 60 s periods, tones 26.7 Hz apart`, as `Mode.title` has it in English."""
    sentence = phrases.MODE_TITLE if mode.mode in BY_EAR else phrases.MODE_TITLE_TONES
    spacing = f"{mode.tone_spacing_hz:.3g}"
    return speech.say(sentence, mode=mode.mode, period=f"{mode.period_s:g}", spacing=spacing)


def short_mode_title(mode: Mode, speech: Speech) -> str:
    """`Q65, 60 s, tones 26.7 Hz`: all that sets a mode, in the fewest words."""
    sentence = phrases.MODE_SHORT if mode.mode in BY_EAR else phrases.MODE_SHORT_TONES
    spacing = f"{mode.tone_spacing_hz:.3g}"
    return speech.say(sentence, mode=mode.mode, period=f"{mode.period_s:g}", spacing=spacing)


def title_words(title: str, speech: Speech) -> str:
    """The same of a title that the record holds in English; one that reads otherwise stays as it is."""
    found = TITLE.fullmatch(title)
    if found is None:
        return title
    sentence = phrases.MODE_TITLE_TONES if found["spacing"] else phrases.MODE_TITLE
    return speech.say(sentence, **found.groupdict())


def chance_words(value: float, limits: tuple[float, ...], speech: Speech) -> str:
    """`85 %`, `almost 90 %`, as `formats.chance` has it in English."""
    side, steps = formats.twentieths(value, limits)
    return speech.say(phrases.CHANCES[side], percent=steps * 5)


def megahertz(frequency_hz: float) -> str:
    """`10368.112 34`: MHz with the kilohertz set apart; 10 Hz from 3 GHz, 1 Hz below."""
    step = dial_step_hz(frequency_hz)
    whole = round(frequency_hz / step) * int(step)
    mega, rest = divmod(whole, 1_000_000)
    kilo, hertz = divmod(rest, 1000)
    return f"{mega}.{kilo:03d}{NO_BREAK}" + (f"{hertz // 10:02d}" if step > 1 else f"{hertz:03d}")


def kilohertz(shift_hz: float, step_hz: float, plus: bool = False) -> str:
    """`12.34 kHz`, rounded as the dials are."""
    return f"{formats.signed(round(shift_hz / step_hz) * step_hz / 1e3, 2 if step_hz >= 10 else 3, plus)} kHz"


def search_words(search: Search) -> str:
    """How far to search to either side, and what that is made of."""
    theirs = "theirs, assumed" if search.guessed else "theirs"
    place = ""
    if search.place_hz >= 0.5:
        place = f"{search.place_hz:.0f} Hz as places are known to {search.known_to_km:.0f} km, "
    return (
        f"± {rounded_up(search.width_hz)}: oscillators {formats.plain(search.home_accuracy_hz)} Hz (ours) + "
        f"{formats.plain(search.partner_accuracy_hz)} Hz ({theirs}), {place}"
        f"{search.drift_hz / 2:.0f} Hz shift in half a period (dial for its middle), rounding."
    )


def trouble_words(search: Search, call: str) -> str:
    """What to do where the signal would not be found, both troubles where both hold; empty where it is."""
    words = []
    if Trouble.TOO_WIDE in search.troubles:
        words.append(
            f"Too wide: beyond ± {FOUND_WITHIN_HZ:.0f} Hz a 2500 Hz passband cuts the signal. Agree with {call} on a "
            "carrier or beacon first, and set the dials by it."
        )
    if Trouble.TONES_RUN_AWAY in search.troubles:
        words.append(
            f"Drifts: {search.drift_hz:.0f} Hz in a period, tones are {search.tone_spacing_hz:.3g} Hz apart. Let the "
            f"radio follow, or turn {search.tone_spacing_hz:.0f} Hz every {search.turn_every_s} s."
        )
    return " ".join(words)


def rounded_up(width_hz: float) -> str:
    """A search width up to the next 10 Hz; in tenths of a kilohertz from one on."""
    if width_hz > 990.0:
        return f"{up(width_hz / 1000.0, 1)} kHz"
    return f"{rounded(width_hz, 'up', -1):.0f} Hz"


def open_answers(slots: Iterable[Slot]) -> tuple[str, ...]:
    """What is not agreed yet, a sentence each: `provisional: QF4LUM has not answered`."""
    slots, found = tuple(slots), []
    for state, one, many in (
        ("proposed", "provisional: {} has not answered", "provisional: {} have not answered"),
        ("tentative", "tentative: {} is not sure yet", "tentative: {} are not sure yet"),
    ):
        calls = list(dict.fromkeys(slot.call for slot in slots if slot.state == state))
        if len(calls) > MOST_NAMED:
            found.append(many.format(f"{len(calls)} partners"))
        elif calls:
            found.append((one if len(calls) == 1 else many).format(formats.listed(calls)))
    return tuple(found)
