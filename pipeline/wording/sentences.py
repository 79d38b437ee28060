"""Every sentence that a partner reads in letter, chat message, invitation and the note after a night, in English.

Each is whole, with its figures by name, and is the key by which a catalogue finds it; `speech` says it. Short and
plain: English may be the reader's third language. Names of things in a list or in the head of a table are here too.
"""

from __future__ import annotations

from pipeline.absence.causes import Cause
from pipeline.operating.turns import End
from pipeline.windows.no_window import NoWindowKind
from pipeline.windows.rules import HORIZON, MINIMUM_ELEVATION, MOUNT_ELEVATION

# Heads of the letter.
TITLE = "{home} and {call} by the Moon"
FOOTER = "Mutual Moon · {period} · {home} {title} · {band} · plan {number}"
GREETING = "{greeting},"
SLOT = "Slot {label}"
CHANGED = "What has changed"
YOUR_TIME, UTC_TIME = "Your time:", "UTC:"

# Subjects.
SUBJECT_CHANGED = "Moon contact with {home}, {period}: changed {things}"
SUBJECT_NO_WINDOW = "Moon contact with {home}, {period}: no common time"
SUBJECT_NO_SLOT = "Moon contact with {home}, {period}: no time yet"
SUBJECT_AGREED = "Moon contact with {home}, {period}: our agreed times"
SUBJECT_ASK_ONE = "Moon contact with {home}, {period}: please confirm a time"
SUBJECT_ASK_MANY = "Moon contact with {home}, {period}: please confirm {number} times"
SUBJECT_WITHDRAWN = "Moon contact with {home}: {slots} withdrawn"
SLOTS_ONE, SLOTS_MANY = "slot {labels}", "slots {labels}"

# What has changed.
SAID_NO_ONE, SAID_NO_MANY = (
    "You said no to slot {labels}. We try again.",
    "You said no to slots {labels}. We try again.",
)
SLOT_MOVES = "Slot {label} moves. Before: {before}. Now: {now}."
SLOT_NEW = "Slot {label} is new: {time}."
SLOT_AGREED = "Slot {label} is agreed."
SLOT_MOVES_TO_YOURS = "Slot {label} moves to the time that you proposed. Before: {before}. Now: {now}."
SLOT_IS_YOURS = "Slot {label} is the time that you proposed: {time}."
YOU_PROPOSED = "You proposed this time. We confirm it."
YOU_CHOSE = "You chose {chosen}. Slot {label} is now: {time}. It is agreed."
NO_LONGER_FREE = "No longer free: {labels}."
SLOT_MAYBE = "You said maybe to slot {label}. We need a yes or a no."
SLOT_WITHDRAWN = "Slot {label} is withdrawn: {time}. A second mail takes it out of your calendar."
# What a letter says of a slot beside its time, where it differs from what was told last; by what differs.
CHANGED_TIMES = "times"
CHANGED_NAMES = {
    "frequency": "frequency",
    "mode": "mode",
    "opener": "first to send",
    "meet": "meeting place",
    "site": "our place",
    "dials": "dials",
}
DIFFERS_ONE = {
    "frequency": "Slot {labels}: the frequency is new. Before: {before}. Now: {now}.",
    "mode": "Slot {labels}: the mode is new. Before: {before}. Now: {now}.",
    "opener": "Slot {labels}: who sends first is new. Before: {before}. Now: {now}.",
    "meet": "Slot {labels}: the meeting place is new. Before: {before}. Now: {now}.",
    "site": "Slot {labels}: our place is new. Before: {before}. Now: {now}.",
    "dials": "Slot {labels}: the dials are new. Before: {before}. Now: {now}.",
}
DIFFERS_MANY = {
    "frequency": "Slots {labels}: the frequency is new. Before: {before}. Now: {now}.",
    "mode": "Slots {labels}: the mode is new. Before: {before}. Now: {now}.",
    "opener": "Slots {labels}: who sends first is new. Before: {before}. Now: {now}.",
    "meet": "Slots {labels}: the meeting place is new. Before: {before}. Now: {now}.",
    "site": "Slots {labels}: our place is new. Before: {before}. Now: {now}.",
    "dials": "Slots {labels}: the dials are new. Before: {before}. Now: {now}.",
}
DIALS_OF_MOVED_ONE = "Slot {labels}: the dials are new. Use those of this letter."
DIALS_OF_MOVED_MANY = "Slots {labels}: the dials are new. Use those of this letter."
FREQUENCY_OF_BOTH, FREQUENCY_OF_EACH = "{frequency}, both of us", "you {yours}, we {ours}"
MODE_OF_NEITHER, NO_DIALS = "none that both of us have", "none"
OPENS_PARTNER, OPENS_HOME = "you", "we"
DIALS_TOLD = "listen on {listen}, send on {send}"
DIAL_SPAN, DIAL_ALONE = "{first} to {last} MHz", "{first} MHz"
OTHER_WORDS = "The slots are the same. Other lines are new: please use this letter, not the one before."

# What it is about.
CONTACT_WANTED = "We would like to make a contact with you by the Moon on {band}."
AGREED_LEAD = "We would like to make a contact with you by the Moon on {band}. This is what we agreed."
ONE_LEAD = "We would like to make a contact with you by the Moon on {band}. Can you be there?"
MANY_LEAD = (
    "We would like to make a contact with you by the Moon on {band}. "
    "Which of these times suit you? All of them would be best."
)
ZONE_UNKNOWN = "We do not know your time zone, so all times are UTC. Please tell us your zone."

# A slot, and what answer is asked for.
YOU_WORK = "You work {operator}."
YOU_WORK_NAMED = "You work {operator} ({name})."
CONFIRMED_ANSWER = "Confirmed. Thank you."
MAYBE_ANSWER = "You said maybe: please say yes or no."
PLEASE_CONFIRM = "Please confirm."
ANSWER_BY, ANSWER_SOON = "Please answer by {date}.", "Please answer soon."
OTHER_HOURS_BY = "Which other days and hours could you be at your station? Please answer by {date}: just reply."
OTHER_HOURS_SOON = "Which other days and hours could you be at your station? Please answer soon: just reply."
OTHER_PLACE_BY = (
    "Is your horizon as we know it? From another place, would more be free? Please answer by {date}: just reply."
)
OTHER_PLACE_SOON = (
    "Is your horizon as we know it? From another place, would more be free? Please answer soon: just reply."
)
NOTHING_TO_ANSWER = "There is nothing to answer. If something comes between, tell us as soon as you can."
HOW_TO_ANSWER = (
    "Tap “Accept” or “Decline” in the invitation that comes with this letter, or reply with a line such as: {example}."
)
EXAMPLE_YES, EXAMPLE_NO = "{label} yes", "{label} no"
ONE_SLOT_SHOWN = (
    "Your mail program may show slot {label} only. The files slot-{label}.ics and so on hold one slot each."
)
NO_TIME_SUITS = "No time suits you? Tell us which days and hours do."

# Who writes: home's station.
HOME_TITLE = "Who we are"
WE_ARE, WE_ARE_NAMED = "We are {call}.", "We are {call}, {name}."
HOME_PLACE = "Our place: {locator} ({position}), {height} m above the sea."
HOME_PLACE_THEN = "Our place in slot {labels}: {name}, {locator} ({position}), {height} m above the sea."
HOME_EQUIPMENT = "Our station: {antenna}, {power}, {feed}."
HOME_SKY = "In slot {label} the Moon stands {elevation} high here. Our horizon below it is at {skyline}."
HOME_SKY_UNKNOWN = "In slot {label} the Moon stands {elevation} high here. Our horizon below it is not measured."
HOME_SHORT = "We: {antenna}, {power}, {locator}."
HOME_SHORT_SKY = "We: {antenna}, {power}, {locator}, our horizon {skyline}."
HOME_LOCATOR = "We are at {locator}."
HOME_LINE = "{call}: {antenna}, {power}, {feed}, at {locator} ({position})."
HOME_LINE_NAMED = "{call}: {antenna}, {power}, {feed}, at {name}, {locator} ({position})."

# What we know of the partner's station.
STATION_TITLE = "Your station: please correct"
STATION_LEAD = "This is what we know of your station. Please correct what is wrong."
WE_KNOW, WE_GUESSED = "We have: {figures}.", "We guessed: {figures}."
YOUR_HOURS, YOUR_HOURS_GUESSED = "Your hours: {hours}.", "Your hours (a guess): {hours}."
DISH, ANTENNA_GAIN = "{metres} m dish", "antenna of {gain} dBi"
POWER_AT_FEED, POWER = "{watts} W at the feed", "{watts} W"
AT_PLACE = "place {locator} ({position})"
HEIGHT = "{metres} m above the sea"
NOISE_FIGURE = "noise figure {decibels} dB"
MODES = "modes {modes}"
ACCURACY = "frequency accurate to {hertz} Hz"
TIME_ZONE = "time zone {zone}"
FEEDS = {
    "rotatable": "a feed that can be turned",
    "circular": "a feed for circular polarization",
    "horizontal": "a horizontal feed",
    "vertical": "a vertical feed",
}
SURVEYED, SURVEYED_ABOVE = "your surveyed horizon", "your surveyed horizon, not below {degrees}°"
FREE, FREE_ABOVE = "a flat, free horizon", "a flat, free horizon, not below {degrees}°"
ANY_TIME = "you can be there at any time"
USUAL_HOURS = "every day 07:00 to 23:30, your time"
HOURS = "{stretches}, your time"
STRETCH = "{days} {start} to {end}"
EVERY_DAY, DAY_RUN = "every day", "{first} to {last}"
AND, COMMA = " and ", ", "
ASSUMED_SHORT = "We count with {antenna}, {power}, at {locator}: right?"
DOUBTED = "{figure}?"

# On the air.
AIR_TITLE = "On the air"
FREQUENCY_BOTH = "Frequency: {frequency}, both of us."
FREQUENCY_EACH = "Frequency: you send on {yours}, {home} sends on {ours}."
NO_MODE = "We found no mode that both of us have: please tell us which modes you can use."
MODE = "Mode: {mode}."
MINUTES_EVEN, MINUTES_ODD = "on even minutes (0, 2, 4 ...)", "on odd minutes (1, 3, 5 ...)"
SECONDS = "from second {start} to {end} of every minute"
SECONDS_EACH = "for {period} s from second {starts} of every minute"
MINUTES_LONG = "for {minutes} minutes from minute {starts} ... of the hour"
FIRST_OF_TWO = "in the first of every two periods of {period} s, counted from the full UTC hour"
SECOND_OF_TWO = "in the second of every two periods of {period} s, counted from the full UTC hour"
# By who opens; `{first}` and `{second}` are when each of the two sends.
TURNS: dict[End, str] = {
    "partner": "You send first, {first}; we send {second}. Count by the UTC clock.",
    "home": "We send first, {first}; you send {second}. Count by the UTC clock.",
}
YOU_BEGIN, YOU_BEGIN_UTC = "You begin at {local} your time ({utc} UTC).", "You begin at {utc} UTC."
WE_BEGIN, WE_BEGIN_UTC = "We begin at {local} your time ({utc} UTC).", "We begin at {utc} UTC."
DOPPLER_EACH = (
    "Doppler: always send on exactly {sends}. To hear us, tune your receiver as the table says; "
    "it changes slowly. We do the same at our end."
)
DOPPLER_HOME = (
    "Doppler: you have nothing to correct. Send on exactly {sends} and listen on exactly {listens}: "
    "we follow for both of us."
)
DOPPLER_AT_MOON = (
    "Doppler: each of us corrects for our own way to the Moon. Set your transmitter and your receiver as the table "
    "says, and set them again in every period."
)

# One slot at the partner's end.
EXPECT_TITLE = "Slot {label}, {date}: what to expect"
MOON_NOT_UP = "By our figures the Moon is not up for both of us then. Is the time right?"
CHANCE = "Chance of a contact: {chance}."
REPORTS = "You hear us at about {there} dB, we hear you at about {here} dB (in 2500 Hz, ±{doubt} dB)."
DOPPLER_SAME = "Doppler: you hear us {shift}."
DOPPLER_MOVES = "Doppler: you hear us {first} at the start, {last} at the end."
SHIFT_NONE, SHIFT_UP, SHIFT_DOWN = "right on the frequency", "{hertz} Hz higher", "{hertz} Hz lower"
SEARCH = "Search {width} Hz up and down: our two frequencies together may be off by {doubt} Hz."
SEARCH_PLACES = (
    "Search {width} Hz up and down: our two frequencies together may be off by {doubt} Hz, "
    "and {places} Hz more as places are known to {distance} km."
)
FEED_CIRCULAR = "Your feed: circular, nothing to turn."
FEED_RANDOM = "Your feed: leave it as it is. On this band the polarization turns at random."
FEED_SET = {"horizontal": "Your feed: please set it horizontal.", "vertical": "Your feed: please set it vertical."}
FEED_WE_TURN = {"horizontal": "Your feed: horizontal. We turn ours.", "vertical": "Your feed: vertical. We turn ours."}
FEED_STANDS = {"horizontal": "Your feed: horizontal.", "vertical": "Your feed: vertical."}
POINT, POINT_AND_DIAL = "Point your antenna", "Point your antenna and set your dial"
HEAD_LOCAL, HEAD_UTC, HEAD_AZIMUTH, HEAD_ELEVATION = "your time", "UTC", "azimuth", "elevation"
HEAD_LISTEN, HEAD_SEND = "listen MHz", "send MHz"
FROM_TO = "{first} to {last}"
# By what there is to dial: nothing, the receiver, both.
AIM_THROUGH = (
    "From start to end: azimuth {azimuth}, elevation {elevation}.",
    "From start to end: azimuth {azimuth}, elevation {elevation}, listen on {listen} MHz.",
    "From start to end: azimuth {azimuth}, elevation {elevation}, listen on {listen} MHz, send on {send} MHz.",
)
AIM_AT_START = (
    "At {time}: azimuth {azimuth}, elevation {elevation}.",
    "At {time}: azimuth {azimuth}, elevation {elevation}, listen {listen} MHz.",
    "At {time}: azimuth {azimuth}, elevation {elevation}, listen {listen} MHz, send {send} MHz.",
)
FIGURES_TITLE = "How to read the figures"
FIGURES = (
    "Azimuth is counted from true north through east. Elevation is where the Moon appears.",
    "Reports may be wrong by 3 dB. All is for clear air: rain and snow cost more.",
)

# Where to meet, and what if it fails.
MEET_TITLE = "Where we meet"
MEET_IN_SLOT = "Before and during the slot we are here: {place}."
MEET = "You find us here: {place}."
WHO_IS_LATE = "Is one of us late? The minutes and the frequencies stay the same until the slot ends: just join."
SOMETHING_BREAKS = "Does something break? Tell us there, or write to us."
FALL_BACK_TITLE = "If it does not work"
FALL_BACK_LEAD = (
    "If a slot fails, we try again at another time: the same mode, the same minutes. Nothing to answer now; these "
    "hours may still change, so ask us before you wait for one."
)
INSTEAD, INSTEAD_SLOT = "Instead of slot {label}: {time}.", "Instead of slot {label}: slot {other}."
OR_ELSE, OR_ELSE_SLOT = "Or else: {time}.", "Or else: slot {other}."
INSTEAD_NOTHING = "Instead of slot {label}: no time yet. If it fails, we write to you."
BOTH_TIMES, ONLY_UTC = "{local} your time ({utc} UTC)", "{utc} UTC"
WINDOWS_TITLE = "When the Moon is up for both of us"
WINDOWS_LEAD = "These are the best times at which the Moon is up for both of us. Does one of them suit you?"
WINDOWS_FILE = "The file {file} has all {number}."
ONE_TIME = "{time}."
CLOCKS_TITLE = "Your clocks change"
CLOCKS_LEAD = "The local times in this letter already count with it."
CLOCKS_CHANGE = "On {date} at {time} UTC your clocks change from {before} to {after}."
CAUTIONS_TITLE = "Please take care"
CAUTIONS = (
    "Nobody stands in front of an antenna that may transmit.",
    "Never look at the Sun through a sight or any optics.",
    "Your licence and your local codes come before everything in this letter.",
)

# No slot, and why: told to the partner itself, with nothing of others.
NO_COMMON_TIME = "Sadly the Moon gives us no common time in {period}."
NO_COMMON_MODE = "We have no time for you in {period} yet, because we share no mode. Which modes can you use?"
NO_ROOM = "Sadly we could not fit in a slot for you in {period}."
NO_ROOM_BECAUSE = {
    Cause.HOURS_DO_NOT_MEET: "Sadly we could not fit in a slot for you in {period}: the hours at which you and we can "
    "be at our stations do not meet.",
    Cause.TOO_WEAK: "Sadly we could not fit in a slot for you in {period}: our signals would be too weak by our "
    "figures.",
    Cause.SUN_TOO_NEAR: "Sadly we could not fit in a slot for you in {period}: the Sun stands too near the Moon "
    "whenever both of us could be there.",
    Cause.PARTNER_AWAY: "Sadly we could not fit in a slot for you in {period}: it would only fit on dates when you are "
    "away.",
    Cause.OFFERS_DECLINED: "Sadly we could not fit in a slot for you in {period}: the times that we offered did not "
    "suit you and we found no other.",
    Cause.STRETCH_TOO_SHORT: "Sadly we could not fit in a slot for you in {period}: the times that we share are too "
    "short.",
    Cause.MOON_TOO_LOW: "Sadly we could not fit in a slot for you in {period}: the Moon stays too low in the times "
    "that we share.",
}
MOON_UP_NEVER = "The Moon is up for both of us at no time."
MOON_UP_ONE, MOON_UP_MANY = (
    "The Moon is up for both of us {number} time.",
    "The Moon is up for both of us {number} times.",
)
# By the end at which the cause lies; `""` where it lies at neither.
NO_WINDOW = {
    (NoWindowKind.NEVER_RISES, "home"): "The Moon never rises here in this time.",
    (NoWindowKind.NEVER_RISES, "partner"): "The Moon never rises at your station in this time.",
    (NoWindowKind.NEVER_ABOVE_BOTH, ""): "The Moon is never up for both of us. At best one of us has it {degrees}° "
    "below the horizon.",
    (NoWindowKind.BEFORE_FIRST_NIGHT, ""): "The only common time began before our first night.",
    (NoWindowKind.ALWAYS_HIDDEN, "home"): "When the Moon is up for both of us, we do not see it.",
    (NoWindowKind.ALWAYS_HIDDEN, "partner"): "When the Moon is up for both of us, you do not see it.",
    (NoWindowKind.HIDDEN_WHILE_HOME_SEES, "partner"): "When we see the Moon, you do not see it.",
}
HIDDEN_BY = {
    (HORIZON, "home"): "Our horizon hides it at azimuth {first}° to {last}°.",
    (HORIZON, "partner"): "Your horizon hides it at azimuth {first}° to {last}°.",
    (MINIMUM_ELEVATION, "home"): "Our antenna does not point lower than {degrees}°.",
    (MINIMUM_ELEVATION, "partner"): "Your antenna does not point lower than {degrees}°.",
    (MOUNT_ELEVATION, "home"): "Our antenna cannot point so high.",
    (MOUNT_ELEVATION, "partner"): "Your antenna cannot point so high.",
}
OUT_OF_REACH = {
    "home": "Our antenna does not turn to azimuth {first}° to {last}°.",
    "partner": "Your antenna does not turn to azimuth {first}° to {last}°.",
}

# The withdrawal's mail.
WITHDRAWN_LINE = "Slot {label}, {time}, is withdrawn."
WITHDRAWN_SORRY = "Sorry for the change. This mail takes the time out of your calendar; there is nothing to do."
OUR_LETTER_SAYS = "Our letter says which times are open now."
NO_OTHER_TIME = "We have no other time in {period}."

# The chat message.
HELLO = "Hello {name}, {home} here: Moon contact on {band}, {period}."
CHAT_SLOT = "{label}: {local} your time ({offset}) = {utc} UTC"
CHAT_SLOT_NARROW, CHAT_SLOT_UTC = "{label}: {local} your time = {utc} UTC", "{label}: {utc} UTC"
CHAT_WITH = "{line} with {operator}"
CHAT_AGREED, CHAT_MOVED = "{line} (agreed)", "{line} (moved, before: {before})"
CHAT_LOCAL, CHAT_UTC = "{time} your time", "{time} UTC"
CHAT_CHANGED = "New: {things}."
CHAT_MORE_ONE, CHAT_MORE_MANY = "And {number} more slot: ask us.", "And {number} more slots: ask us."
CHAT_BOTH_SEND, CHAT_EACH_SENDS = "Both send on {frequency}.", "You send on {yours}, we on {ours}."
CHAT_TURNS: dict[End, str] = {"partner": "You send first, {yours} UTC.", "home": "You send second, {yours} UTC."}
CHAT_TURNS_SHORT: dict[End, str] = {"partner": "You send first.", "home": "We send first."}
CHAT_MODE = "{mode}."
CHAT_MEET = "Meet us here: {place}."
CHAT_WITHDRAWN = "Withdrawn: slot {label}, {time}."
CHAT_SORRY = "Sorry for the change. There is nothing to answer."
CHAT_NO_SLOT_BY = "No time found yet: which days and hours could you be there? Please answer by {date}."
CHAT_NO_SLOT_SOON = "No time found yet: which days and hours could you be there? Please answer soon."
CHAT_NO_WINDOW_BY = "Is your horizon really so? Would another place be free? Please answer by {date}."
CHAT_NO_WINDOW_SOON = "Is your horizon really so? Would another place be free? Please answer soon."
CHAT_ALL_AGREED = "All agreed. Please tell us if something changes."
CHAT_ANSWER_BY, CHAT_ANSWER_SOON = (
    "Please answer by {date}, for instance: {example}",
    "Please answer soon, for instance: {example}",
)
PLAN = "Plan {number}"

# Calendar objects.
EVENT_TITLE = "Moon contact {operator} and {call}, slot {label}"
EVENT_ALARM = "Moon contact with {operator}"
EVENT_LOCAL, EVENT_UTC = "Your time: {time}", "UTC: {time}"
EVENT_TABLE = "The table is in the letter."
WINDOW_TITLE, WINDOW_TITLE_OUTCOME = (
    "Moon up for {home} and {call}, {band}",
    "Moon up for {home} and {call}, {band}, {outcome}",
)
WINDOW_WORDS = "Both see the Moon. Not a slot: nothing is agreed. Plan {number}."

# The morning after.
AFTER_SUBJECT = "Moon contact with {home}, {date}: thank you"
AFTER_HELLO = "Hello {name}, {home} here."
AFTER_ABOUT = "Our slot {label} by the Moon on {band}: {time}."
AFTER_TIME = "{local} your time ({offset}) = {utc} UTC"
AFTER_MADE, AFTER_MADE_AT = "Our contact is complete.", "Our contact is complete, at {time} UTC."
AFTER_FAILED = "Our contact is not complete."
AFTER_ABSENT = "We did not meet."
AFTER_RAINED = "The weather did not let us try."
AFTER_BOTH_REPORTS = "We gave you {sent}, you gave us {received}."
AFTER_SENT, AFTER_RECEIVED = "We gave you {sent}.", "You gave us {received}."
AFTER_NOTHING_HEARD = "We did not hear you."
AFTER_THANKS, AFTER_THANKS_TRYING = "Thank you for the contact.", "Thank you for trying."
AFTER_SORRY = "Thank you for your patience."
AFTER_NEXT_AGREED = "Our next time together: {time}."
AFTER_NEXT_ASKED = "The next time that we asked you for: {time}. Please say yes or no."
AFTER_NEXT_PLANNED = "The next time that we have in mind for you: {time}. Does it suit you?"
AFTER_NEXT = "The next time at which both of us could try: {time}. Shall we?"
AFTER_NEXT_MADE = "If you like another contact, the next time for it is: {time}."
AFTER_LATER = "We will write to you about another time."
AFTER_NO_NEXT = "In {period} we see no other time at which both of us could try."

# Several times for one slot, and the one question about the sky.
ONE_CHOICE_LEAD = "We would like to make a contact with you by the Moon on {band}. Which time suits you? We need one."
MANY_CHOICES_LEAD = (
    "We would like to make a contact with you by the Moon on {band}. Which times suit you? We need one of each slot."
)
AGREED_AND_ASKED_LEAD = "A time for our contact by the Moon on {band} is agreed. Below we ask you about another."
OR, OTHER_TIME = " or ", "Or"
PLEASE_CHOOSE = "Please choose: {labels}."
OTHER_BETTER = "Is {other} better than {label}? Then reply: {other} yes. The letter is enough."
KEPT_FREE = (
    "The invitation is for {labels}. We keep {others} free for you until you answer. If you choose another time, the "
    "invitation moves there."
)
TIMES_AGREED = "The times are agreed. If something comes between, tell us as soon as you can."
IF_YOU_CHOOSE = "If you choose {label}: {aim}"
SKY_QUESTION = (
    "One question: is your sky free from azimuth {first}° to {last}°, above {above}° of elevation? Reply: sky free. Or "
    "tell us how high trees and houses stand there: sky 7 means 7°."
)
CHAT_AS_PROPOSED = "{line} (as you proposed)"
CHAT_OTHER = "or {label}: {time}"
CHAT_CHOOSE_BY, CHAT_CHOOSE_SOON = "Please answer by {date}: {labels}?", "Please answer soon: {labels}?"
CHAT_SKY = "Is your sky free at azimuth {first} to {last} above {above} deg? Say: sky free, or its height: sky 7."
