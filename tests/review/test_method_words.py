"""The page says how it learns: each rule has its heading, and each figure of the rules stands in the words."""

from __future__ import annotations

import dataclasses

import pytest

from pipeline.wording.learnt import Rules, method_paragraphs

RULES = Rules(
    side_db=1.4,
    scatter_db="2.1 dB",
    evening_db="0.8 dB",
    most_attempts=60.0,
    presence_slots=20.0,
    partner_slots=(5.0, 150.0),
    untried=0.05,
    contacts_from=6,
    failures_due=2.0,
    not_so=0.01,
    guessed=1.0 / 3.0,
    wild=0.04,
    wild_evening=0.03,
    level=0.9,
    trend_errors=2.5,
)
# What the learning does, by what the page calls it and a word that the paragraph needs.
NAMED = {
    "Sides": "Each way",
    "Home and partners": "in common",
    "Lucky reports": "weak signals",
    "Periods tried and heard": "One in thirty",
    "Guessed decodes": "a third",
    "Presence": "nobody may have been there",
    "Silences": "without a line is no contact",
    "Contacts only": "without one failure",
    "Slips": "is doubted",
    "Evenings": "for each evening",
    "Scatter": "2.1 dB",
    "Measured stations": "own echo",
    "Again and again": "never against earlier corrections",
    "Pictures": "Wilson",
}
# Each figure, another one in its place, and the heading under which it stands.
FIGURES = {
    "side_db": (1.7, "Sides", "1.7 dB"),
    "scatter_db": ("3.3 dB", "Scatter", "3.3 dB"),
    "evening_db": ("1.9 dB", "Evenings", "1.9 dB"),
    "most_attempts": (77.0, "Home and partners", "77 attempts"),
    "presence_slots": (33.0, "Presence", "33 slots"),
    "partner_slots": ((8.0, 88.0), "Presence", "8 to 88 slots"),
    "untried": (0.12, "Silences", "12 %"),
    "contacts_from": (9, "Contacts only", "9 contacts"),
    "failures_due": (4.0, "Contacts only", "where 4 were"),
    "not_so": (0.07, "Slips", "7 %"),
    "guessed": (0.25, "Guessed decodes", "a quarter"),
    "wild": (0.11, "Slips", "11 %"),
    "wild_evening": (0.17, "Evenings", "17 %"),
    "level": (0.8, "Pictures", "80 %"),
    "trend_errors": (3.5, "Pictures", "3.5 standard"),
}


def test_each_rule_is_named() -> None:
    told = dict(method_paragraphs(RULES))
    assert list(told) == list(NAMED)
    for name, words in NAMED.items():
        assert words in told[name], name


def test_every_figure_has_its_case() -> None:
    assert set(FIGURES) == {one.name for one in dataclasses.fields(Rules)}


@pytest.mark.parametrize("figure", FIGURES)
def test_the_words_tell_the_figures_of_the_rules(figure: str) -> None:
    value, heading, words = FIGURES[figure]
    told = dict(method_paragraphs(dataclasses.replace(RULES, **{figure: value})))
    assert words in told[heading]
    assert words not in dict(method_paragraphs(RULES))[heading]
