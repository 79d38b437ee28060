"""Sentences for partners: one table, whole, figures by name; no room and no template has one of its own."""

from __future__ import annotations

import re
import string
from collections.abc import Iterator
from gettext import NullTranslations

import pytest

from pipeline.reports.places import templates_folder
from pipeline.wording import phrases, sentences
from pipeline.wording.speech import ENGLISH, SPEECHES, Speech
from tests.test_rooms import PIPELINE
from tests.test_words_last import sentences as sentences_of_module

# Modules of the letters whose words a partner reads; the others speak to the operator.
SPOKEN = (
    "building", "chat", "choice_words", "home_words", "invitations", "morning_after", "no_slot", "on_the_air",
    "proposal_reply", "question_words", "station_words", "told", "two_languages", "withdrawing",
)  # fmt: skip
TABLE = vars(phrases) | vars(sentences)
# What the table takes from other rooms.
NO_SENTENCES = {"HORIZON", "MINIMUM_ELEVATION", "MOUNT_ELEVATION"}
TEMPLATES = ("letter.html.jinja", "letter.txt.jinja", "message.txt.jinja")


def table() -> Iterator[str]:
    """Every entry of the table."""
    for name, value in TABLE.items():
        if name.isupper() and name not in NO_SENTENCES:
            values = value.values() if isinstance(value, dict) else value if isinstance(value, tuple) else (value,)
            yield from values


def test_each_sentence_is_said_somewhere() -> None:
    """Whoever translates the table reads nothing in vain."""
    names = {name for name in TABLE if name.isupper()}
    said = {
        name
        for path in PIPELINE.rglob("*.py")
        for name in re.findall(r"\b(?:sentences|phrases)\.([A-Z_]+)", path.read_text("utf-8"))
    }
    assert names - said == NO_SENTENCES


class Greek(NullTranslations):
    """A catalogue of two entries, one with three forms for a number."""

    def gettext(self, message: str) -> str:
        return {"Slot {label} is agreed.": "{label}!"}.get(message, message)

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        return ("alpha {number}", "beta {number}", "gamma")[min(n, 3) - 1]


def test_a_sentence_is_found_by_the_english_one_and_else_stays_english() -> None:
    speech = Speech("el", Greek())
    assert speech.say(sentences.SLOT_AGREED, label="A") == "A!"
    assert speech.say(sentences.CHANGED) == "What has changed"
    assert [speech.count("{number} time", "{number} times", number) for number in (1, 2, 5)] == [
        "alpha 1", "beta 2", "gamma",
    ]  # fmt: skip
    english = SPEECHES[ENGLISH]
    assert english.say(sentences.SLOT_AGREED, label="{call}") == "Slot {call} is agreed."
    assert english.count("{number} time", "{number} times", 2) == "2 times"


def test_a_figure_that_is_missing_is_a_defect() -> None:
    with pytest.raises(KeyError):
        SPEECHES[ENGLISH].say(sentences.SLOT_AGREED)


@pytest.mark.parametrize("sentence", sorted(set(table())))
def test_figures_go_in_by_name(sentence: str) -> None:
    fields = [(name, spec, turn) for _, name, spec, turn in string.Formatter().parse(sentence) if name is not None]
    assert all(re.fullmatch("[a-z]+", name) and not spec and not turn for name, spec, turn in fields)
    assert "  " not in sentence


@pytest.mark.parametrize("name", SPOKEN)
def test_no_module_that_partners_read_has_a_sentence_of_its_own(name: str) -> None:
    assert sentences_of_module(PIPELINE / "letters" / f"{name}.py") == []


@pytest.mark.parametrize("name", TEMPLATES)
def test_no_template_has_a_word_of_its_own(name: str) -> None:
    text = (templates_folder() / name).read_text("utf-8")
    for aside in (r"\{#.*?#\}", r"\{%.*?%\}", r"\{\{.*?\}\}", r"<style>.*?</style>", r"<[^>]*>"):
        text = re.sub(aside, "", text, flags=re.DOTALL)
    assert re.findall("[A-Za-z]+", text) == []
