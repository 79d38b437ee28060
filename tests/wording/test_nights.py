"""Every sentence about a night, taken apart again and each claim held against the tables it was made from."""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
import re
from collections.abc import Callable
from functools import lru_cache

import pandas as pd
import pytest

from pipeline.outlook.facts import Fact, FactKind
from pipeline.outlook.reasons import LOW_DEG, Context, _heavy_losses
from pipeline.wording.nights import LONGEST, PART_WORDS, month_sentence, night_words
from tests.plan.months import Outlook, demo_inputs, month_plan, only_partners, outlook, with_equipment, with_policy

# Meeus, Astronomical Algorithms, chapter 50: perigees lie within 370,400 km; apogees beyond 404,000, nights about them
# a little nearer.
FARTHEST_PERIGEE_KM = 370_400.0
NEAR_APOGEE_KM = 402_000.0
EMPTY_PRAISE = re.compile(r"\b(great|excellent|perfect|good|fine|nice|ideal|superb|enjoy|don't miss)\b", re.IGNORECASE)


@lru_cache(maxsize=8)
def _plan(name: str) -> Outlook:
    """Ordinary months, and months bent until something is wrong."""
    inputs = demo_inputs(name if name in MONTHS else MONTHS[0])
    if name == "no windows":
        inputs = only_partners(inputs, "QI9TEA")
    elif name == "wide limit to the Sun":
        inputs = with_policy(inputs, minimum_sun_separation_deg=11.0)
    elif name == "everything too near the Sun":
        inputs = with_policy(inputs, minimum_sun_separation_deg=45.0, nights=("fri", "sat"))
    elif name == "tiny powers":
        inputs = _with_all(inputs, power_w=0.05)
    elif name == "huge powers":
        inputs = _with_all(inputs, power_w=1500.0, modes=("Q65",))
    elif name == "no common mode":
        inputs = dataclasses.replace(inputs, home=with_equipment(inputs.home, modes=("SSB",)))
    elif name == "crossed feeds":
        inputs = _with_all(inputs, polarization="vertical")
        inputs = dataclasses.replace(inputs, home=with_equipment(inputs.home, polarization="horizontal"))
    return outlook(with_policy(inputs, step_minutes=30))


def _with_all(inputs, **changes):  # type: ignore[no-untyped-def]
    return dataclasses.replace(
        inputs,
        home=with_equipment(inputs.home, **changes),
        partners=tuple(with_equipment(one, **changes) for one in inputs.partners),
    )


MONTHS = ["2027-03", "2026-06", "2026-12", "2027-08"]
BENT = [
    "no windows", "wide limit to the Sun", "everything too near the Sun", "tiny powers", "huge powers",
    "no common mode", "crossed feeds",
]  # fmt: skip


class Night:
    """One night of a plan, and the claims that may be made of it; each returns quietly or fails."""

    def __init__(self, plan: Outlook, index: int) -> None:
        self.plan, self.index = plan, index
        self.row = plan.nights.iloc[index]
        self.reason = night_words(plan.night_facts[index])
        self.date: dt.date = self.row["night"]
        self.windows = plan.windows[plan.windows["night"] == self.date]
        self.samples = plan.samples[plan.samples["night"] == self.date]
        self.policy = plan.inputs.season.policy

    @property
    def best(self) -> pd.DataFrame:
        """The window of best chance of each partner."""
        return self.windows.sort_values("chance", ascending=False, kind="stable").drop_duplicates("partner")

    def in_reach(self) -> set[str]:
        return set(self.windows["partner"])

    def away(self) -> None:
        assert not self.row["possible"]
        assert any(self.date in stretch for stretch in self.plan.inputs.home.unavailable_dates)

    def not_a_night(self, weekday: str) -> None:
        assert not self.row["possible"]
        assert weekday == f"{self.date:%A}"
        assert weekday[:3].lower() not in self.policy.nights

    def nobody(self) -> None:
        assert self.windows.empty
        assert self.row["outcome"] == "no window"

    def declination(self, degrees: str, side: str | None) -> None:
        signed = int(degrees) * (-1 if side == "south" else 1)
        assert signed == round(self.row["declination_deg"])
        assert bool(side) == bool(signed)

    def sun(self, degrees: str, limit: str | None, until: str | None) -> None:
        separation = self.plan.nights["sun_separation_deg"]
        now = separation.iloc[self.index]
        assert float(degrees) == pytest.approx(now, abs=0.5 if "." not in degrees else 0.1)
        assert bool(limit) == (now < self.policy.minimum_sun_separation_deg)
        if limit:
            assert float(limit) == self.policy.minimum_sun_separation_deg
            assert float(degrees) < float(limit)
        if until:
            _, day, month = until.split()
            last = next(
                place
                for place, date in enumerate(self.plan.nights["night"])
                if (f"{date.day}", f"{date:%B}") == (day, month)
            )
            assert until.startswith(f"{self.plan.nights['night'].iloc[last]:%a}")
            assert last > self.index
            assert (separation.iloc[self.index : last + 1] < 12.0).all()
            assert separation.iloc[last + 1] >= 12.0

    def sun_limit(self, who: str) -> None:
        lost = set(self.best.loc[self.best["slot_start_utc"].isna(), "partner"])
        if who == "no partner a slot":
            assert lost == self.in_reach()
        elif "partners" in who:
            assert int(who.split()[0]) == len(lost) > 2
        else:
            assert set(re.findall(r"Q\w+", who)) == lost
        sun = self.samples[["home_sun_separation_deg", "partner_sun_separation_deg"]].min(axis=1)
        for call in lost:
            assert sun[self.samples["partner"] == call].min() < self.policy.minimum_sun_separation_deg

    def all_in_reach(self, count: str) -> None:
        assert (2 if count.lower() == "both" else int(count)) == len(self.in_reach()) == len(self.plan.inputs.partners)

    def only(self, calls: str) -> None:
        assert set(re.findall(r"Q\w+", calls)) == self.in_reach()

    def some(self, count: str, wanted: str) -> None:
        assert int(count) == len(self.in_reach()) == self.row["partners_in_reach"]
        assert int(wanted) == len(self.plan.inputs.partners)

    def without(self, count: str, calls: str) -> None:
        assert int(count) == len(self.in_reach())
        assert set(re.findall(r"Q\w+", calls)) == set(self.plan.windows["partner"]) - self.in_reach()

    def moon(self, place: str, km: str, short_db: str) -> None:
        distance = self.row["distance_km"]
        assert int(km.replace(",", "")) == pytest.approx(distance, abs=500.0)
        assert (place.lower() == "near perigee (") == (distance < FARTHEST_PERIGEE_KM)
        assert (place.lower() == "near apogee (") == (distance > NEAR_APOGEE_KM)
        assert float(short_db) == pytest.approx(self.row["degradation_db"], abs=0.0501)

    def too_weak(self, whose: str, short_db: str, at: str | None, times: str | None, power: str | None) -> None:
        least = self.best.iloc[-1]
        assert least["chance"] == self.best["chance"].min() < self.policy.outcome_thresholds.workable
        here, there = -least["margin_at_home_db"], -least["margin_at_partner_db"]
        assert float(short_db) == pytest.approx(max(here, there), abs=0.0501)
        assert float(short_db) > 0.0
        if whose.lower() == "home":
            assert at == least["partner"]
            assert there > here
        else:
            assert whose == least["partner"]
            assert at is None
            assert here >= there
        if times:
            assert float(times) == pytest.approx(10 ** (float(short_db) / 10), abs=0.0501)
            assert power == ("home's" if whose.lower() == "home" else "its")

    def no_mode(self, call: str) -> None:
        place = [one.call for one in self.plan.inputs.partners].index(call)
        assert self.plan.modes[place] is None
        partner = self.plan.inputs.partners[place]
        assert not set(partner.bands[self.plan.band].modes) & set(self.plan.inputs.home.bands[self.plan.band].modes)

    def short_window(self, call: str, minutes: str) -> None:
        least = self.best.iloc[-1]
        assert least["partner"] == call
        assert int(minutes) <= least["duration_min"] < min(int(minutes) + 1, self.policy.slot_minutes)

    def part(self, words: str, costs_db: str) -> None:
        name = next(f"degradation_{part}_db" for part, said in PART_WORDS.items() if said.lower() == words.lower())
        names = [f"degradation_{part}_db" for part in PART_WORDS]
        mean, usual = self.samples[names].mean(), self.plan.samples[names].mean()
        assert float(costs_db) == pytest.approx(mean[name], abs=0.0501)
        assert mean[name] - usual[name] == pytest.approx((mean - usual).max())
        assert mean[name] - usual[name] >= 0.2

    def loss(self, what: str, call: str, costs_db: str) -> None:
        name = "polarization_loss_db" if what.lower() == "polarization" else "spread_loss_db"
        assert float(costs_db) == pytest.approx(self.best[name].max(), abs=0.0501)
        assert call in set(self.best.loc[self.best[name] == self.best[name].max(), "partner"])
        assert self.best[name].max() > 3.0

    def best_night(self, calls: str) -> None:
        assert self.row["possible"]
        for call in re.findall(r"Q\w+", calls):
            all_nights = self.plan.windows[self.plan.windows["partner"] == call].groupby("night")["chance"].max()
            assert all_nights[self.date] == all_nights.max()
            assert all_nights.max() < self.policy.outcome_thresholds.strong

    def low(self, calls: str, degrees: str) -> None:
        named = re.findall(r"Q\w+", calls)
        highest = self.samples.groupby("partner")["partner_elevation_deg"].max()
        assert max(highest[call] for call in named) <= int(degrees)
        assert max(highest[call] for call in named) > int(degrees) - 1.1
        for call in named:
            ever = (
                self.plan.samples[self.plan.samples["partner"] == call].groupby("night")["partner_elevation_deg"].max()
            )
            assert ever.max() >= LOW_DEG


SUN = (
    r"the sun is ([\d.]+) degrees away(?:, inside your limit of ([\d.]+) degrees)?"
    r"(?:,? and stays within 12 degrees until (\w+ \d+ \w+))?"
)
CLAIMS: list[tuple[str, Callable[..., None]]] = [
    ("home is away on this date", Night.away),
    (r"(\w+day) is not one of your nights", Night.not_a_night),
    ("no partner has the Moon in sight together with home", Night.nobody),
    (r"the Moon's declination is (\d+) degrees(?: (north|south))?", Night.declination),
    (SUN, Night.sun),
    (r"your limit to the Sun leaves (no partner a slot|[\w ,]+(?= no slot))(?: no slot)?", Night.sun_limit),
    (r"all (\d+) partners in reach", Night.all_in_reach),
    (r"(both) partners in reach", Night.all_in_reach),
    (r"only (Q\w+(?: and Q\w+)?) in reach", Night.only),
    (r"(\d+) of (\d+) partners in reach", Night.some),
    (r"(\d+) partners in reach, not ([\w ,]+)", Night.without),
    (r"(near perigee \(|near apogee \(|the Moon at )([\d,]+) km\)?, ([\d.]+) dB short of the best case", Night.moon),
    (
        r"(home|Q\w+)'s signal is ([\d.]+) dB short(?: at (Q\w+))?"
        r"(?: \(([\d.]+) times (its|home's) power would mend it\))?",
        Night.too_weak,
    ),
    (r"(Q\w+) shares no mode with home", Night.no_mode),
    (r"(Q\w+)'s window lasts only (\d+) minutes?", Night.short_window),
    (r"([\w' ]+) costs ([\d.]+) dB on average", Night.part),
    (r"(polarization|Doppler spread) costs (Q\w+) ([\d.]+) dB", Night.loss),
    (r"the best night for ([\w ,]+)", Night.best_night),
    (r"(Q\w+(?:, Q\w+)*(?: and Q\w+)?) never sees? the Moon above (\d+) degrees", Night.low),
]


def _reasons(plan: Outlook) -> pd.Series[str]:
    """What is told of each night."""
    return pd.Series([night_words(facts) for facts in plan.night_facts])


def _claims(sentences: str) -> list[str]:
    """The facts of one night; sentences end with a full stop, facts within one with a semicolon."""
    assert sentences.endswith(".")
    return [fact for sentence in re.split(r"\. ", sentences.removesuffix(".")) for fact in sentence.split("; ")]


def _check(night: Night, claim: str) -> str:
    for pattern, check in CLAIMS:
        # Only the first letter of a sentence is changed, so names keep their capitals under either case.
        if match := re.fullmatch(pattern, claim, re.IGNORECASE):
            check(night, *match.groups())
            return check.__name__
    raise AssertionError(f"nobody has said how to check: {claim}")


@pytest.mark.parametrize("name", [*MONTHS, *BENT])
def test_every_claim_is_true_and_plain(name: str) -> None:
    """Two sentences at most, short, without praise; each fact once, and each as the tables have it."""
    plan = _plan(name)
    for index in range(len(plan.nights)):
        night = Night(plan, index)
        reason = night.reason
        kinds = [_check(night, claim) for claim in _claims(reason)]
        assert len(kinds) == len(set(kinds)) or kinds.count("loss") == 2
        assert 0 < len(reason) <= LONGEST
        assert reason.count(". ") <= 1
        assert not reason[0].islower()
        assert not EMPTY_PRAISE.search(reason)


@pytest.mark.parametrize("month", MONTHS)
def test_sentences_vary(month: str) -> None:
    reasons = _reasons(_plan(month))
    assert reasons.nunique() >= 0.9 * len(reasons)
    # What is the same on every night is no reason for any of them.
    firsts = reasons.str.split(r"[;.] ", regex=True).str[0]
    assert firsts.value_counts().max() <= len(reasons) / 3


def test_the_most_decisive_fact_comes_first() -> None:
    """Away, then the Sun inside the limit, then what keeps a poor night poor; the Moon's distance on the others."""
    plan = _plan("2027-03")
    limit = plan.inputs.season.policy.minimum_sun_separation_deg
    for row in plan.nights.assign(reason=_reasons(plan)).itertuples():
        if not row.possible:
            assert row.reason.startswith("Home is away")
        elif row.sun_separation_deg < limit:
            assert row.reason.startswith("The Sun is")
        elif row.outcome in ("marginal", "unlikely"):
            assert re.match(
                r"(.*'s signal is|\d+ partners in reach, not|Only|.*shares no mode|.*window lasts)", row.reason
            )


def test_a_bad_month_says_what_is_missing() -> None:
    """With 0.05 W nobody is heard; each night that is not ruled out says by how many decibels, and promises no cure."""
    plan = _plan("tiny powers")
    nights = plan.nights.assign(reason=_reasons(plan))
    assert set(nights["outcome"]) == {"unlikely"}
    told = nights.loc[nights["possible"] & (nights["sun_separation_deg"] > 12.0), "reason"]
    assert told.str.contains("dB short").all()
    assert not told.str.contains("would mend").any()


def test_nothing_is_said_every_night() -> None:
    """A partner who is low all month, or air that costs the same every night, is not told again and again."""
    plan = _plan("2027-03")
    highest, reasons = plan.samples.groupby("partner")["partner_elevation_deg"].max(), _reasons(plan)
    for call in highest[highest < LOW_DEG].index:
        assert not reasons.str.contains(f"{call}[^;.]* never", regex=True).any()
    assert reasons.str.contains("on average").sum() <= len(plan.nights) / 3


def test_the_limit_in_words_is_never_reached_by_rounding() -> None:
    """4.96 degrees lie inside a limit of 5: the sentence must not say 5 inside 5."""
    plan = _plan("2027-03")
    nearest = plan.nights["sun_separation_deg"].min()
    limit = math.floor((nearest + 0.04) * 100) / 100
    inputs = with_policy(demo_inputs(), minimum_sun_separation_deg=limit, step_minutes=60)
    tight = outlook(inputs)
    for index in range(len(tight.nights)):
        night = Night(tight, index)
        for claim in _claims(night.reason):
            _check(night, claim)


def test_a_loss_is_heavy_beyond_half_the_power() -> None:
    """Three decibels and what rounding adds: 3.0 is what linear costs with circular, and is no news."""
    plan = _plan(MONTHS[0])
    context = Context(plan.inputs, plan.nights, plan.windows, plan.samples, {})
    for loss_db, told in ((3.02, False), (3.03, True)):
        windows = pd.DataFrame(
            {"partner": ["QF4LUM"], "chance": [0.3], "polarization_loss_db": [loss_db], "spread_loss_db": [0.0]}
        )
        for outcome, weight in (("marginal", 73), ("strong", 43)):
            facts = _heavy_losses(context, pd.Series({"outcome": outcome}), windows)
            fact = Fact(FactKind.POLARIZATION_LOSS, weight, calls=("QF4LUM",), loss_db=loss_db)
            assert facts == ([fact] if told else [])
            assert night_words(facts) == ("Polarization costs QF4LUM 3.0 dB." if told else "")


def test_the_month_in_a_sentence() -> None:
    """It counts what the nights say and calls a bad period bad."""
    nights = month_plan().nights
    assert month_sentence(nights.assign(outcome="workable")) == "No strong night; 26 workable ones."
    away = nights.assign(possible=False)
    assert month_sentence(away) == "Not one night can be used: home is away, or your nights leave it out."
    assert month_sentence(nights.assign(outcome="marginal")) == "A poor period: no night is better than marginal."
    assert month_sentence(_plan("no windows").nights) == "A bad period: not one night is worth setting up for."
    assert month_sentence(nights.assign(outcome="unlikely")) == "A bad period: not one night is worth setting up for."
    assert month_sentence(nights.iloc[:1].assign(outcome="strong")) == "1 strong night, 0 workable."
    assert month_sentence(nights.iloc[:1].assign(outcome="workable")) == "No strong night; 1 workable one."
