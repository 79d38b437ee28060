"""How a review learns from a log, in words: a heading and a few short sentences for each rule.

The figures come from the rooms that learn, so that the words cannot tell others.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Rules:
    """The figures of the rules: decibels, numbers of slots or reports, and shares of 1."""

    side_db: float
    scatter_db: str
    evening_db: str
    most_attempts: float
    presence_slots: float
    partner_slots: tuple[float, float]
    untried: float
    contacts_from: int
    failures_due: float
    not_so: float
    guessed: float
    wild: float
    wild_evening: float
    level: float
    trend_errors: float


def method_paragraphs(rules: Rules) -> tuple[tuple[str, str], ...]:
    """Heading and words of each rule, in the order of the page."""
    return (
        (
            "Sides",
            "Each way has one error: what the sender sends better plus what the listener hears better. Before any log "
            f"each side is 0 ± {rules.side_db:.1f} dB, a station's two sides alike by a half. The figure behind ± is "
            "one standard deviation.",
        ),
        (
            "Home and partners",
            "Home's sides are what all partners have in common. A few partners tell home from partner poorly. Their "
            "sum is then better known than its parts; the record keeps the parts alone and claims less. Beyond "
            f"{rules.most_attempts:.0f} attempts with one partner no more is claimed.",
        ),
        (
            "Lucky reports",
            "Only periods that decode are reported. Reports of weak signals are lucky ones and count as such.",
        ),
        (
            "Periods tried and heard",
            "Where the log tells how many periods were tried and how many were heard, their share counts, by the "
            "fading that the chance takes. One in thirty says some 2.8 dB too little. A bare no says little.",
        ),
        (
            "Guessed decodes",
            f"What a program decoded with help of what was expected counts for {_share(rules.guessed)} of a plain "
            "decode, report and periods alike, where the log marks it.",
        ),
        (
            "Presence",
            "A failed attempt counts with care: nobody may have been there, or something gross was amiss. How often "
            "that is so is learnt, for all and for each partner. Before any log the season's figure counts for "
            f"{rules.presence_slots:.0f} slots. What all have shown counts for {rules.partner_slots[0]:.0f} to "
            f"{rules.partner_slots[1]:.0f} slots with each partner, fewer where partners differ.",
        ),
        (
            "Silences",
            "An agreed slot without a line is no contact. Until somebody says how they went, such slots have "
            f"failed, but for {_percent(rules.untried)} of them that nobody may have tried. "
            "One that was noted as rained off teaches nothing.",
        ),
        (
            "Contacts only",
            f"A log of {rules.contacts_from} contacts and more without one failure, where {rules.failures_due:.0f} "
            "were due, leaves failures out. That its contacts came about then says nothing; their reports do.",
        ),
        (
            "Slips",
            f"{_percent(rules.wild)} of reports are taken to be slips, and {_percent(rules.not_so)} of contacts to "
            "have come about otherwise than the log says. A report far from all others is doubted and loses its "
            "weight. So does one near a horizon, where two minutes are decibels.",
        ),
        (
            "Evenings",
            "Each station has one term for each evening, alike for sending and hearing. "
            f"{_percent(rules.wild_evening)} of evenings are quite other ones. By this log a station differs by "
            f"{rules.evening_db} from evening to evening. The plan counts that as doubt beside what each side "
            "leaves.",
        ),
        ("Scatter", f"Single reports scatter by {rules.scatter_db} about what was learnt."),
        (
            "Measured stations",
            "Readings of ground, Sun, Moon and own echo are no part of what is learnt here. The plan joins both, each "
            "weighed by its doubt, and counts what was believed before once.",
        ),
        (
            "Again and again",
            "Corrections are learnt against the station files, never against earlier corrections. Attempts of reviews "
            "that were applied stay in record/attempts.csv, and later reviews learn from them too. Whoever changes a "
            "station's equipment deletes its lines there.",
        ),
        (
            "Pictures",
            f"In the picture of chances the upright lines are Wilson's intervals of {_percent(rules.level)}. Of five "
            "honest steps one often lies outside, for attempts with one partner share that partner's errors. Two or "
            f"more on one side are a sign. A trend is told from {rules.trend_errors:g} standard errors.",
        ),
    )


def _percent(share: float) -> str:
    return f"{share * 100:.0f} %"


def _share(part: float) -> str:
    """`a third`, or a percentage where no word fits."""
    words = {2: "half", 3: "a third", 4: "a quarter", 5: "a fifth"}
    whole = round(1.0 / part)
    return words[whole] if whole in words and abs(1.0 / part - whole) < 0.01 else _percent(part)
