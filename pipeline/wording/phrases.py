"""More of the table of `wording.sentences`: how dates, stretches, chances and modes are said; two languages at once.

English too, and keys of the catalogues; what a season says where it has no words of its own stands here as well.
"""

from __future__ import annotations

from pipeline.inputs.rules import NO_PLACE_TO_MEET

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

# Two languages in one letter.
ENGLISH_BELOW = "The English text is below. Where the two differ, it counts."
NOBODY_READ_IT = "Nobody who speaks this language has read this translation yet."
IN_ENGLISH = "In English"

# What a season says where it has no words of its own.
SEASON_WORDS = ("Dear {operator}", "Good echoes", NO_PLACE_TO_MEET)
