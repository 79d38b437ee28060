"""What a review has learnt of a station, in words."""

from __future__ import annotations

from pipeline.record.model import Correction
from pipeline.wording.corrections import correction_words, learnt_words

LEARNT = Correction("QA1AAA", "3cm", 1.24, -0.44, 0.8, 0.9, "14 reports up to 2027-03-28")


def test_both_sides_with_their_doubt() -> None:
    assert correction_words(LEARNT) == "sends +1.2 ± 0.8 dB, hears −0.4 ± 0.9 dB"


def test_on_what_it_rests() -> None:
    assert learnt_words(LEARNT) == "learnt from 14 reports up to 2027-03-28"
    assert learnt_words(Correction("QA1AAA", "3cm", 1.2, -0.4, 0.8, 0.9, "")) == "learnt from the log"
