"""What to do when a slot goes quiet: a ladder of steps for each thing that may be heard, with minutes and figures.

From the figures of a slot (`ladder_figures`). The order of steps is common practice, no source: what costs nothing and
what is likeliest comes first. Each ladder ends at the same three: ring, fall-back, pack.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from enum import Enum

from pipeline.link.one_way import WhoHears
from pipeline.operating.other_spots import OtherSpot
from pipeline.operating.search import Search
from pipeline.operating.turns import End
from pipeline.plan.views import Stretch


class Heard(Enum):
    """What may be heard in a slot besides a contact."""

    ONLY_THEY = "only they hear"
    ONLY_WE = "only we hear"
    TRACES = "traces without a decode"
    NOTHING = "nothing either way"


class Do(Enum):
    """One step of a ladder."""

    ASK_TO_KEEP_SENDING = "ask them to keep sending"
    KEEP_SENDING = "keep sending"
    WAIT_FOR_A_DECODE = "wait for a decode"
    CHECK_TURNS = "check clock and turns"
    ASK_IF_THERE = "ask for them"
    SEARCH = "search"
    OTHER_SPOTS = "look at the other spots"
    TELL_THEIR_DIAL = "tell them their dial"
    FOLLOW_THE_DRIFT = "follow the drift"
    JUDGE_THE_SPREAD = "judge the spread"
    PEAK_ON_MOON_NOISE = "peak on Moon noise"
    SWEEP_THE_AIM = "sweep the aim"
    JUDGE_OUR_AIM = "judge our aim by their report"
    CHECK_POWER = "check the power"
    CHECK_FEED = "check the feed"
    CHECK_RECEIVER = "check the receiver"
    RING = "ring"
    FALL_BACK = "fall-back"
    PACK = "pack"


# Minutes of the steps that no figure gives (judgement): a look, a call, a turn of the feed, the receiver's test.
LOOK_MIN, CALL_MIN, FEED_MIN, RECEIVER_MIN, NOISE_MIN = 1, 2, 2, 3, 2
# One period of theirs heard at each of four aims around the Moon.
AIMS = 4
# What a step of the aim moves, as a share of the beam: half of it off costs 3 dB.
SWEEP_SHARE = 0.5
# Listened to at each setting of the dial.
PERIODS_A_SETTING = 2
# Less than this between both ends names neither the weaker.
ALIKE_DB = 1.0
# A feed turned wrong by which less is lost is not worth a climb to it.
FEED_MATTERS_DB = 1.0


@dataclass(frozen=True)
class Level:
    """One way: the margin and report foretold (dB), and after how many periods one decodes 9 times in 10.

    `most` says that even so many do not give that.
    """

    margin_db: float
    report_db: float
    report_doubt_db: float
    periods: int
    is_enough: bool


@dataclass(frozen=True)
class Feed:
    """What the feed loses as the sheet has it and turned by 90 degrees, dB; NaN where nothing can be turned."""

    stands_db: float
    turned_db: float

    @property
    def matters(self) -> bool:
        """Whether a turn would change what is heard."""
        return abs(self.turned_db - self.stands_db) >= FEED_MATTERS_DB


@dataclass(frozen=True)
class Smear:
    """How wide the signal is at half power and what the mode stands, Hz; what it costs, dB."""

    half_power_hz: float
    tone_spacing_hz: float
    loss_db: float
    by_ear: bool

    @property
    def explains(self) -> bool:
        """Whether the spread alone can make traces of what would decode."""
        return self.half_power_hz > self.tone_spacing_hz


@dataclass(frozen=True)
class LadderFigures:
    """A slot's own figures, of which the steps speak; `too_late` is when a whole contact no longer fits.

    `moon_rise_db` is None where the dish cannot see it; frequencies of the partner's dial are those at both ends of the
    slot; `power_needed_w` gives half of the periods at the partner.
    """

    number: int
    call: str
    start: dt.datetime
    end: dt.datetime
    period_s: float
    opener: End
    first_start: dt.datetime
    too_late: dt.datetime
    home: Level
    partner: Level
    odds: WhoHears
    odds_after_min: int
    search: Search
    spots: tuple[OtherSpot, ...]
    partner_receive_hz: tuple[float, float]
    feed: Feed
    smear: Smear
    moon_rise_db: float | None
    beamwidth_deg: float
    power_w: float
    power_needed_w: float
    fall_back: Stretch | None
    last_end: dt.datetime

    @property
    def weaker(self) -> End | None:
        """The end that was to hear less; None where both are alike."""
        gap = self.home.margin_db - self.partner.margin_db
        return None if math.isnan(gap) or abs(gap) < ALIKE_DB else "partner" if gap > 0.0 else "home"

    @property
    def gap_db(self) -> float:
        """By how much the weaker end hears less."""
        return abs(self.home.margin_db - self.partner.margin_db)


@dataclass(frozen=True)
class Rung:
    """A step and the minutes it takes; 0 where it takes none of its own."""

    do: Do
    minutes: int


@dataclass(frozen=True)
class Ladder:
    """The steps in order for what is heard; `odds` after the slot's first minutes, None where nobody can tell."""

    heard: Heard
    odds: float | None
    rungs: tuple[Rung, ...]


def ladders_of(figures: LadderFigures) -> tuple[Ladder, ...]:
    """The four ladders of a slot."""
    odds = figures.odds
    told = {
        Heard.ONLY_THEY: odds.partner_alone,
        Heard.ONLY_WE: odds.home_alone,
        Heard.TRACES: None,
        Heard.NOTHING: odds.neither,
    }
    aim = Do.SWEEP_THE_AIM if figures.moon_rise_db is None else Do.PEAK_ON_MOON_NOISE
    tail = (Do.RING, Do.FALL_BACK if figures.fall_back else None, Do.PACK)
    steps: dict[Heard, tuple[Do | None, ...]] = {
        Heard.ONLY_THEY: (
            Do.ASK_TO_KEEP_SENDING, Do.SEARCH, Do.OTHER_SPOTS, Do.CHECK_FEED, aim, Do.CHECK_RECEIVER,
        ),
        Heard.ONLY_WE: (
            Do.KEEP_SENDING, Do.TELL_THEIR_DIAL, Do.JUDGE_OUR_AIM, Do.CHECK_POWER, Do.CHECK_FEED,
        ),
        Heard.TRACES: (
            Do.ASK_TO_KEEP_SENDING, Do.WAIT_FOR_A_DECODE, Do.FOLLOW_THE_DRIFT, Do.JUDGE_THE_SPREAD, Do.CHECK_FEED, aim,
        ),
        Heard.NOTHING: (
            Do.CHECK_TURNS, Do.ASK_IF_THERE, Do.ASK_TO_KEEP_SENDING, aim, Do.SEARCH, Do.OTHER_SPOTS, Do.CHECK_FEED,
            Do.CHECK_RECEIVER,
        ),
    }  # fmt: skip
    return tuple(
        Ladder(heard, told[heard], tuple(Rung(do, _minutes(do, figures)) for do in (*some, *tail) if do is not None))
        for heard, some in steps.items()
    )


def _minutes(do: Do, figures: LadderFigures) -> int:
    """Whole minutes, rounded up. While one end keeps sending, each of its periods follows the last."""

    def periods(number: int) -> int:
        return math.ceil(number * figures.period_s / 60.0)

    taken = {
        Do.ASK_TO_KEEP_SENDING: CALL_MIN + periods(figures.home.periods),
        Do.KEEP_SENDING: CALL_MIN + periods(figures.partner.periods),
        Do.WAIT_FOR_A_DECODE: periods(figures.home.periods),
        Do.CHECK_TURNS: LOOK_MIN,
        Do.ASK_IF_THERE: CALL_MIN,
        Do.SEARCH: periods(PERIODS_A_SETTING * figures.search.settings),
        Do.OTHER_SPOTS: periods(PERIODS_A_SETTING * len(figures.spots)),
        Do.TELL_THEIR_DIAL: CALL_MIN,
        Do.FOLLOW_THE_DRIFT: periods(PERIODS_A_SETTING),
        Do.PEAK_ON_MOON_NOISE: NOISE_MIN,
        Do.SWEEP_THE_AIM: periods(AIMS),
        Do.JUDGE_OUR_AIM: LOOK_MIN,
        Do.CHECK_POWER: LOOK_MIN,
        Do.CHECK_FEED: FEED_MIN,
        Do.CHECK_RECEIVER: RECEIVER_MIN,
        Do.RING: CALL_MIN,
    }
    return taken.get(do, 0)
