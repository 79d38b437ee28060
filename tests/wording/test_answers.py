"""Who asks for a slot and who must answer."""

import datetime as dt

from pipeline.wording.answers import answer_words


def test_each_state_says_whose_turn_it_is() -> None:
    by = dt.date(2027, 2, 20)
    assert answer_words("proposed", "QM7TOR", "QK3RED", by) == "QM7TOR asks, QK3RED answers by Sat 20 Feb"
    assert answer_words("tentative", "QM7TOR", "QK3RED", by).endswith("QK3RED said perhaps and decides by Sat 20 Feb")
    assert answer_words("confirmed", "QM7TOR", "QK3RED", by) == "agreed between QM7TOR and QK3RED"
    assert answer_words("proposed", "QM7TOR", "QK3RED", None).endswith("answers soon, no date is set")
    assert answer_words("withdrawn", "QM7TOR", "QK3RED", by) == ""
