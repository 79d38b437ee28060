"""What the page for a telephone says through a night: pieces of sentences whose figures the page puts in by name.

From nothing but names: figures come from the page's own tables, formatted as the sheets print them.
"""

from __future__ import annotations

from pipeline.operating.ladders import Heard
from pipeline.wording import formats
from pipeline.wording.ladders import HEARD_WORDS

# What may be heard, in the order of the buttons, by the key that the page has for it.
HEARD = {
    "nothing": Heard.NOTHING,
    "they_hear_us": Heard.ONLY_THEY,
    "we_hear_them": Heard.ONLY_WE,
    "traces": Heard.TRACES,
}

# Where braces stand the page puts a figure in.
PAGE_WORDS = {
    "head_slot": "{night}, slot {number}, {call}",
    "head_again": "{night}, slot {number} once more, {call}",
    "here": "{clock} here",
    "until_step": "{title} at {time}.",
    "then_step": "Then, at {time}: {title}. {span} left.",
    "last_step": "Nothing follows.",
    "span_left": "{span} left.",
    "between": "Next: {call} at {time}, slot {number}.",
    "between_again": "If slot {number} was missed: {call} once more at {time}.",
    "nobody": "Nobody sends before {time}.",
    "then_we": "Then we send. {span} left.",
    "then_they": "Then {call} sends. {span} left.",
    "we_send": "We send until {time}, then listen.",
    "we_send_last": "We send until {time}, then the slot ends.",
    "they_send": "Listen to {call} until {time}, then send.",
    "they_send_last": "Listen to {call} until {time}, then the slot ends.",
    "move_in_turn": "Move the {antenna} at {time}.",
    "move_now": "Move the {antenna} now: {dials}.",
    "period": "{span} left. Period {number} of {count}.",
    "we_send_still": "We send, {span} left.",
    "they_send_still": "{call} sends, {span} left.",
    "no_turns": "No mode in common with {call}: agree on one by telephone.",
    "slot_left": "The slot ends at {time}, {span} left.",
    "over": "The night is over.",
    "over_more": "What counts is written in the log.",
    "no_slot": "No slot tonight.",
    "no_slot_more": "The own echo shows that all works.",
    "far": "The telephone says {time}. This page is for the night of {night}.",
    "now": "now",
    "stand_at": "azimuth and inclinometer",
    "moon_at": "Moon at azimuth and inclinometer",
    "no_moon": "the Moon has no line at this time: paper counts",
    "not_usable": "not usable: {trouble}",
    "listen_on": "listen on, {rate}; set for {time}",
    "lower": "{rate} Hz lower each minute",
    "higher": "{rate} Hz higher each minute",
    "steady": "steady",
    "send_on": "send on",
    "send_on_set": "send on; set for {time}",
    "echo_on": "our echo is heard on",
    "moved": "moved the {antenna} to {dials}",
    "move_to": "move the {antenna} to",
    "slot_begins": "slot {number}, {call}{state}",
    "again_begins": "slot {number} once more if it was missed, {call}",
    "slot_ends": "slot ends",
    "slot_ends_next": "slot ends; next {call} at {time}",
    "slot_ends_again": "slot ends; if slot {number} was missed, {call} once more at {time}",
    "feed_next": "then the feed: {words}",
    "feed": "feed: {words}",
    "two_dials": "{azimuth}° and {inclinometer}°",
    "seconds": "{count} seconds",
    "second": "1 second",
    "minutes": "{count} minutes",
    "minute": "1 minute",
    "hours": "{hours} h {minutes} min",
    "offsets_paper": "As on paper: {azimuth}° and {inclinometer}°.",
    "offsets_own": "Yours, kept in this page only. Paper stands for {azimuth}° and {inclinometer}°: its dials differ.",
    "offset_bad": "A number of degrees is meant, such as {minus}0.2, within {most} either way; until then as on paper.",
    "kept": "Kept on this telephone for this night.",
    "not_kept": "This browser keeps nothing: all is forgotten when the page is closed.",
    "clock_unknown": "Not checked. This page cannot know how far the telephone's clock is off; the paper and a checked "
    "clock count.",
    "clock_slow": "The telephone was {seconds} s slow at the tap; times here are put right by that, to a finger's "
    "0.2 s. Whole minutes off it cannot see: compare the minute.",
    "clock_fast": "The telephone was {seconds} s fast at the tap; times here are put right by that, to a finger's "
    "0.2 s. Whole minutes off it cannot see: compare the minute.",
    "awake": "The screen stays awake while this page is seen.",
    "not_awake": "This browser lets the screen go dark: set its time longer.",
}

ABOUT_OFFSETS = "What the dial shows, less the truth. The inclinometer's holds its usual offset as well."
ABOUT_CLOCK = "Tap when a time signal gives the full minute."
PAPER_COUNTS = (
    "Made with the sheets and from the same tables. Paper counts: this page does not know what was agreed, re-planned "
    "or missed since, nor whether the telephone's clock is right."
)
WITHOUT_SCRIPT = "This browser runs no script here: what follows is the plain timetable."


def page_words() -> dict[str, object]:
    """All that the page's script puts together, with the names of days and months."""
    return dict(PAGE_WORDS) | {"days": formats.WEEKDAYS, "months": [name[:3] for name in formats.MONTHS]}


def heard_words() -> dict[str, str]:
    """What stands on each button."""
    return {key: HEARD_WORDS[heard] for key, heard in HEARD.items()}
