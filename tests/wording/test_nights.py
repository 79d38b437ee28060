"""Every sentence about a night, taken apart again and each claim held against the tables and the facts behind it.

What the facts say is held against slots and samples in `tests/outlook/test_nights.py`.
"""

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
from pipeline.outlook.reasons import LOW_DEG
from pipeline.wording import formats
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
        self.policy = plan.inputs.season.policy

    def fact(self, *kinds: FactKind) -> Fact:
        """The one fact of these kinds."""
        (found,) = [fact for fact in self.plan.night_facts[self.index] if fact.kind in kinds]
        return found

    @property
    def usable(self) -> list[str]:
        return self.row["partners_usable"].split()

    @property
    def heard(self) -> list[str]:
        return self.row["partners_heard"].split()

    def away(self) -> None:
        assert not self.row["possible"]
        assert any(self.date in stretch for stretch in self.plan.inputs.home.unavailable_dates)

    def not_a_night(self, weekday: str) -> None:
        assert not self.row["possible"]
        assert weekday == f"{self.date:%A}"
        assert weekday[:3].lower() not in self.policy.nights

    def nobody(self) -> None:
        assert self.plan.windows.loc[self.plan.windows["night"] == self.date].empty
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

    def not_free(self, count: str) -> None:
        assert int(count) == len(self.heard) > 0
        assert not self.usable
        assert self.row["outcome"] == "nobody free"

    def too_weak(self, count: str) -> None:
        assert int(count) == self.row["partners_in_reach"] > 0
        assert not self.heard

    def met_by_name(self, calls: str, wanted: str | None) -> None:
        assert re.findall(r"Q\w+", calls) == self.usable
        assert len(self.usable) <= 3
        assert int(wanted or len(self.usable)) == len(self.plan.inputs.partners)

    def met(self, count: str, wanted: str) -> None:
        assert int(count) == len(self.usable) > 3
        assert int(wanted) == len(self.plan.inputs.partners)

    def all_met(self, count: str) -> None:
        assert int(count) == len(self.usable) == len(self.plan.inputs.partners)

    def only_now(self, calls: str) -> None:
        named = set(re.findall(r"Q\w+", calls))
        others = " ".join(self.plan.nights["partners_usable"].drop(self.index)).split()
        assert named == set(self.usable) - set(others)

    def hours_lost(self, count: str) -> None:
        assert int(count) == len(self.heard) - len(self.usable) > 0

    def best_chance(self, call: str, here: str, elsewhere: str) -> None:
        fact = self.fact(FactKind.BEST_CHANCE)
        assert fact.calls == (call,)
        assert (here, elsewhere) == (formats.chance(fact.chance), formats.chance(fact.next_chance))
        assert fact.chance > fact.next_chance

    def moon(self, place: str, km: str, short_db: str) -> None:
        distance = self.row["distance_km"]
        assert int(km.replace(",", "")) == pytest.approx(distance, abs=500.0)
        assert (place.lower() == "near perigee (") == (distance < FARTHEST_PERIGEE_KM)
        assert (place.lower() == "near apogee (") == (distance > NEAR_APOGEE_KM)
        assert float(short_db) == pytest.approx(self.row["degradation_db"], abs=0.0501)

    def part(self, words: str, costs_db: str) -> None:
        fact = self.fact(FactKind.NOISE)
        assert PART_WORDS[fact.part].lower() == words.lower()
        assert float(costs_db) == pytest.approx(fact.loss_db, abs=0.0501)

    def loss(self, what: str, call: str, costs_db: str) -> None:
        polarization = what.lower() == "polarization"
        fact = self.fact(FactKind.POLARIZATION_LOSS if polarization else FactKind.SPREAD_LOSS)
        assert fact.calls == (call,)
        assert float(costs_db) == pytest.approx(fact.loss_db, abs=0.0501)
        assert call in self.usable

    def low(self, call: str, degrees: str) -> None:
        fact = self.fact(FactKind.LOW_MOON)
        assert fact.calls == (call,)
        assert int(degrees) == round(fact.angle_deg) <= LOW_DEG


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
    (r"(\d+) partners? could be heard, but not within the hours of both ends", Night.not_free),
    (r"(\d+) partners? in sight, none with a chance better than unlikely", Night.too_weak),
    (r"all (\d+) partners can be met", Night.all_met),
    (r"(\d+) of (\d+) partners can be met", Night.met),
    (r"(Q\w+(?:, Q\w+)*(?: and Q\w+)?)(?: of (\d+) partners)? can be met", Night.met_by_name),
    (r"(Q\w+(?:, Q\w+)*(?: and Q\w+)?) can be met on this night alone", Night.only_now),
    (r"(\d+) more could be heard, outside the hours of one end", Night.hours_lost),
    (r"the best night for (Q\w+): chance ([\w %]+), elsewhere ([\w %]+) at most", Night.best_chance),
    (r"(near perigee \(|near apogee \(|the Moon at )([\d,]+) km\)?, ([\d.]+) dB short of the best case", Night.moon),
    (r"(polarization|Doppler spread) costs (Q\w+) ([\d.]+) dB", Night.loss),
    (r"([\w' ]+) costs ([\d.]+) dB", Night.part),
    (r"(Q\w+) has the Moon at (-?\d+) degrees in its best slot", Night.low),
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
def test_nights_that_can_be_used_are_told_apart(month: str) -> None:
    """Where somebody can be met, most reasons are their own; no month has the same first fact on half of its nights."""
    plan = _plan(month)
    reasons = _reasons(plan)[(plan.nights["partners_usable"] != "").to_numpy()]
    assert len(reasons) > 8
    assert reasons.nunique() >= 0.8 * len(reasons)
    firsts = reasons.str.split(r"[;.] ", regex=True).str[0]
    assert firsts.value_counts().max() <= max(4, len(reasons) / 2)


def test_the_most_decisive_fact_comes_first() -> None:
    """Away, then the Sun inside the limit, then that nobody is free; else who can be met, first of all on it alone."""
    plan = _plan("2027-03")
    limit = plan.inputs.season.policy.minimum_sun_separation_deg
    for row in plan.nights.assign(reason=_reasons(plan)).itertuples():
        if not row.possible:
            assert row.reason.startswith("Home is away")
        elif row.sun_separation_deg < limit:
            assert row.reason.startswith("The Sun is")
        elif row.outcome == "nobody free":
            assert re.match(r"\d+ partners? could be heard, but not within", row.reason)
        else:
            assert re.match(r"(Q[\w, ]+|\d+ of 9 partners|All 9 partners) can be met", row.reason)


def test_a_bad_month_says_what_is_missing() -> None:
    """With 0.05 W nobody is heard: each night that is not ruled out says so, and promises no cure."""
    plan = _plan("tiny powers")
    nights = plan.nights.assign(reason=_reasons(plan))
    assert set(nights["outcome"]) == {"nobody free"}
    told = nights.loc[nights["possible"] & (nights["sun_separation_deg"] > 12.0), "reason"]
    assert told.str.contains("none with a chance better than unlikely").all()


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


def test_a_loss_is_told_by_its_partner() -> None:
    for kind, words in ((FactKind.POLARIZATION_LOSS, "Polarization"), (FactKind.SPREAD_LOSS, "Doppler spread")):
        fact = Fact(kind, 43, calls=("QF4LUM",), loss_db=3.04)
        assert night_words((fact,)) == f"{words} costs QF4LUM 3.0 dB."


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
