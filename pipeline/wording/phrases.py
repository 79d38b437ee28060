"""More of the table of `wording.sentences`: how dates, stretches, chances and modes are said; two languages at once.

English too, and keys of the catalogues; what a season says where it has no words of its own stands here as well.
"""

from __future__ import annotations

from pipeline.agenda.proposal import Against
from pipeline.outlook.questions import Thing

# Dates, stretches, figures.
SPAN, SPAN_DATES = "{date}, {start} to {end}", "{date}, {start} to {then}, {end}"
SHORT_SPAN, SHORT_SPAN_DATES = "{date} {start} to {end}", "{date} {start} to {then} {end}"
OFFSETS = "{before}, at the end {after}"
LOCAL_SPAN = "{span} ({offset})"
CHANCES = {
    "": "{percent} %",
    "under": "under {percent} %",
    "almost": "almost {percent} %",
    "over": "over {percent} %",
}
OUTCOMES = {"strong": "strong", "workable": "workable", "marginal": "marginal", "unlikely": "unlikely"}
MODE_TITLE = "{mode}, {period} s periods"
MODE_TITLE_TONES = "{mode}, {period} s periods, tones {spacing} Hz apart"
MODE_SHORT, MODE_SHORT_TONES = "{mode}, {period} s", "{mode}, {period} s, tones {spacing} Hz"

# The one question of a letter or a message; that about the sky stands in `sentences`.
ONE_QUESTION = "One question."
QUESTIONS = {
    Thing.HOURS: "From when to when can you be at your station? We guessed: {guess}.",
    Thing.POWER: "How much power do you have at the feed? We guessed {guess} W.",
    Thing.ANTENNA: "How large is your dish? We guessed {guess} m.",
    Thing.NOISE: "What is the noise figure of your receiver? We guessed {guess} dB.",
    Thing.LOSS: "How much is lost between your antenna and the preamplifier? We guessed {guess} dB.",
}
GAIN_QUESTION = "How much gain does your antenna have? We guessed {guess} dBi."
REPLY_HOURS, REPLY_FIGURE = "Reply for instance: 18:00 to 23:30.", "Just reply with the figure."
NO_TIME_YET = "No time found yet."

# A second slot with one partner, where one contact is wanted.
ONLY_IF = "Only if slot {first} fails."
HELD_FOR = (
    "We need one contact. Slot {spare} is held for the case that slot {first} fails. If {first} works, {spare} falls "
    "away by itself."
)
CHAT_HELD_FOR = "One is enough: {spare} only if {first} fails."

# What is new of such a slot, and of what to hope for.
SUBJECT_FIRST_FAILED = "Moon contact with {home}, {period}: slot {first} failed, slot {label} counts"
FIRST_FAILED = "Slot {first} failed. Slot {label} counts now: it is no longer only if slot {first} fails."
FIRST_GONE = "Slot {label} counts now: it is no longer only if slot {first} fails."
NOW_ONLY_IF = "Slot {label} is now there only if slot {first} fails."
REPORTS_DIFFER = (
    "Slot {label}: the reports to hope for are new. Before: you hear us at {theirs} dB, we hear you at "
    "{ours} dB. Now: {there} dB and {here} dB."
)
CHANGED_USE, CHANGED_REPORTS = "what a slot is for", "reports to hope for"

# Another time of a slot, in a chat.
CHAT_BOTH = "{local} your time = {utc} UTC"

# The reply to a time that a partner proposed.
REPLY_YES = "Yes, {local} your time ({offset}) is good for us. That is {utc} UTC."
REPLY_YES_UTC = "Yes, {utc} UTC is good for us."
REPLY_MOON = "The Moon is then {elevation} degrees up at your place."
REPLY_WEAK = "Signals will be weak: the chance of a contact is {chance}."
REPLY_DETAILS = "You need not answer. We will send you the details."
REPLY_HARD = {
    Against.NO_MODE: "That time is hard because we have no mode in common.",
    Against.TAKEN: "That time is hard because our dish is taken then.",
    Against.HOME_NOT_FREE: "That time is hard because nobody is at our dish then.",
    Against.SUN: "That time is hard because the Sun is too near to the Moon.",
    Against.WEAK: "That time is hard because the signals would be too weak.",
    Against.NIGHT_FULL: "That time is hard because our dish is taken that night.",
    Against.NIGHTS_USED: "That time is hard because we have no further night free.",
    Against.ARRIVAL: "That time is hard because we cannot be at our dish in time.",
}
REPLY_RISING = "That time is hard because the Moon is just rising or setting."
REPLY_BELOW = {
    "home": "That time is hard because the Moon is {degrees} degrees below our horizon.",
    "partner": "That time is hard because the Moon is {degrees} degrees below your horizon.",
}
REPLY_LOW = {
    "home": "That time is hard because the Moon is too low at our place.",
    "partner": "That time is hard because the Moon is too low at your place.",
}
REPLY_HIGH = {
    "home": "That time is hard because the Moon is higher than our antenna reaches.",
    "partner": "That time is hard because the Moon is higher than your antenna reaches.",
}
REPLY_TURN = {
    "home": "That time is hard because the Moon is where our antenna does not turn.",
    "partner": "That time is hard because the Moon is where your antenna does not turn.",
}
REPLY_INSTEAD = "Could you do {local} your time ({offset}) instead? That is {utc} UTC."
REPLY_INSTEAD_UTC = "Could you do {utc} UTC instead?"
REPLY_WORKED = "Thank you, our contact is in the log. We need no further time."
REPLY_NO_OTHER = "We have found no other time yet. Which other days and hours could you be there?"

# A partner's page, `windows.pdf`: its heads, and how its lines are read.
PAGE_BY = "by the Moon with {home}"
PAGE_ZONE = "your time: {zone} ({offset})"
PAGE_OFFSET = "{before}, from {date} {after}"
PAGE_SLOT, PAGE_ANSWER, PAGE_OR = "slot", "answer", "or {label}"
PAGE_SKYLINE = "The Moon over your skyline"
PAGE_SKYLINE_KEY = (
    "Heavy: the slots. Thin: the rest of their windows, hours by your clock; azimuth from true north, as you see it."
)
PAGE_SKYLINE_KEY_UTC = (
    "Heavy: the slots. Thin: the rest of their windows, hours by UTC; azimuth from true north, as you see it."
)
PAGE_SKYLINE_SHOWS = "The Moon over the skyline of {call} in its slots: {slots}"
PAGE_SLOT_HEIGHT = "{slot}, up to {degrees} degrees"
# The word that matters, and the rest.
PAGE_ALL, PAGE_ALL_REST = "All times", "at which the Moon is up for both of us"
PAGE_LENGTH, PAGE_OPENS, PAGE_CLOSES = "length", "Moon at the start", "at the end"
PAGE_OUTCOME, PAGE_REPORTS = "outcome", "reports"
PAGE_NOTE = (
    "Times are rounded into the window to the whole minute. Moon: azimuth from true north, then elevation, as you "
    "see it. Reports: you hear us, we hear you, in decibels (in 2500 Hz, ±3 dB), in the best part of the window."
)
PAGE_TINTED = "Tinted: with a slot. Only the slots are asked for."
PAGE_POINTS = ("north", "east", "south", "west")
PAGE_COUNT = "page {page} of {pages}"

# Two languages in one letter.
ENGLISH_BELOW = "The English text is below. Where the two differ, it counts."
NOBODY_READ_IT = "Nobody who speaks this language has read this translation yet."
IN_ENGLISH = "In English"

# What a season says where it has no words of its own.
SEASON_WORDS = ("Dear {operator}", "Good echoes")

# Where the season names no meeting place, a station's file no height above the sea, or nobody a partner's time zone.
MEET_UNNAMED = "We have named no meeting place yet."
MEET_ASK = "Where can we reach you during the slot?"
MEET_NONE = "none named yet"
SOMETHING_BREAKS_WRITE = "Does something break? Please write to us."
HOME_PLACE_ONLY = "Our place: {locator} ({position})."
HOME_PLACE_THEN_ONLY = "Our place in slot {labels}: {name}, {locator} ({position})."
USUAL_HOURS_SUN = "every day 07:00 to 23:30 by the Sun at your place"
HOURS_SUN = "{stretches} by the Sun at your place"
CHAT_ZONE = "Which is your time zone?"

# A partner's skyline from elevation tiles.
BY_TERRAIN = "a skyline from an elevation model, without trees"
BY_TERRAIN_ABOVE = "a skyline from an elevation model, without trees, not below {degrees}°"

# A partner's skyline where it told of an arc only.
TOLD_IN_PART = "your horizon where you told of it and our guess elsewhere"
TOLD_IN_PART_ABOVE = "your horizon where you told of it and our guess elsewhere, not below {degrees}°"

# A partner's skyline that nobody has told, as the plan takes it.
UNKNOWN_HORIZON = "a horizon below {degrees}° in nine of ten places"
UNKNOWN_HORIZON_ABOVE = "a horizon below {degrees}° in nine of ten places, the Moon worked from {lowest}° up"

# What the width of a search has beside oscillators and places, and why a slot's first turn may come after its start.
SEARCH_TOO_WIDE = (
    "Beyond 1000 Hz up or down a receiver of 2500 Hz cuts the signal: let us meet on a steady carrier or a beacon "
    "first."
)
SEARCH_REST = "The other {rest} Hz are for the Doppler shift within a period and for rounding."
FIRST_TURN = "That is the first turn of whoever begins: turns are counted from the full UTC hour."
