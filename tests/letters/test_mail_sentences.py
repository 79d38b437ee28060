"""What people write in mails, in the seven languages of letters, and what it says of slot A, of C instead of it, and B.

The sentences are made up; what each of them says is what a reader of its language would take from it. Where a reader
would ask again, and where the reader of sentences does not know a word, nothing may be printed as an answer.
"""

from __future__ import annotations

import datetime as dt

import pytest

from pipeline.letters.reply_text import own_lines
from pipeline.letters.reply_times import OpenSlot, by_clocks
from pipeline.letters.reply_words import read_words
from tests.letters.test_reply_words import HOME, PARTNER


def open_slot(label: str, day: int, hour: int, instead_of: str = "") -> OpenSlot:
    start = dt.datetime(2027, 3, day, hour, 15, tzinfo=dt.UTC)
    begins, ends = (by_clocks(moment, (HOME, PARTNER)) for moment in (start, start + dt.timedelta(hours=1)))
    return OpenSlot(label, begins, ends, instead_of)


A, C, B = open_slot("A", 13, 1), open_slot("C", 14, 6, "A"), open_slot("B", 22, 3)
# Sentences about A or C, and B; then with A and B alone.
THREE = {
    # English
    "B too early, C ok": "B=no C=yes",
    "C is fine, but B is too late for me": "B=no C=yes",
    "A is no good for me, but C is fine. B too.": "",
    "C yes please, not B": "B=no C=yes",
    "Not A. C and B are fine.": "A=no B=yes C=yes",
    "Sorry, A doesn't work for me. C is great, B also ok.": "A=no B=yes C=yes",
    "Hello Ines, C please. 73 Kim": "C=yes",
    "Dear Ines,\nA: no\nC: yes\nB: yes\nBest regards, Kim": "A=no B=yes C=yes",
    "I can't do A, sorry. B works.": "A=no B=yes",
    "C yes, B yes if it does not rain": "",
    "C yes, but only until 09:00": "",
    "A or C is fine": "", "A/C yes": "", "Anything but A": "", "Not only A but also B": "", "A +, B -": "",
    "A not too early, ok": "", "C would be fine, I will ask my wife about B": "",
    "C yes. Could we skip B?": "", "C yes. D would suit me as well.": "", "Yes. What about B?": "",
    "Unfortunately A and B": "", "A sorry": "", "C yes. Can we start later?": "", "Good, thanks": "",
    "C yes.\nB. Meyer": "", "B. Meyer": "", "A and\nB no": "A=no B=no",
    "C yes. I am away in the week of B.": "", "I will be at home with A": "",
    "A, B no": "", "Thanks for A and B": "", "A cannot be better": "", "A not yet": "", "A ok 50%": "",
    "A is not bad": "", "A was good, B no": "", "A yes, but see you at B": "", "A 1, B 2": "",
    "A is good, unlike B": "",
    # German
    "A passt mir leider nicht, aber C ist gut. B auch ja.": "A=no B=yes C=yes",
    "Leider nein zu A. C: gerne! B: ja": "A=no B=yes C=yes",
    "C gerne, B ist mir zu spät": "B=no C=yes",
    "B geht nicht, C schon": "",
    "A ist nicht unmöglich": "",
    "Guten Abend Ines,\n\nC klappt, B leider nicht.\n\nViele Grüße\nKim": "B=no C=yes",
    "A leider": "", "B nur, wenn es nicht regnet": "", "A geht und B geht nicht": "", "Alles außer A": "",
    # Spanish
    "A no me va bien, C sí": "A=no C=yes",
    "B demasiado temprano, C perfecto": "B=no C=yes",
    "Hola Ines, C me viene bien, gracias. B no puedo.": "B=no C=yes",
    "Lamentablemente A no": "A=no", "A o C, sí": "", "C sí si no llueve": "", "Todo menos A": "",
    # French
    "Bonjour Ines, je ne peux pas A, mais C me convient.": "A=no C=yes",
    "A trop tôt, C d’accord": "A=no C=yes",
    "Malheureusement B non, C oui": "B=no C=yes",
    "C oui, sauf s'il pleut": "", "A ou C, oui": "", "B pas avant 22h": "",
    # Italian
    "A purtroppo no, C va bene": "A=no C=yes",
    "B troppo tardi, C sì": "B=no C=yes",
    "C volentieri, non posso B": "B=no C=yes",
    "A oppure C, sì": "", "C sì se non piove": "", "Tutto tranne B": "",
    # Japanese
    "Aは無理ですが、Cは大丈夫です。": "A=no C=yes",
    "Bは早すぎます。Cでお願いします。": "B=no C=yes",
    "残念ながらAは無理です。Cは可能です。": "A=no C=yes",
    "AかCでお願いします": "", "雨でなければCで大丈夫です": "",
    # Portuguese
    "A não dá, C sim": "A=no C=yes",
    "B muito cedo, C pode ser": "B=no C=yes",
    "Infelizmente A não posso. C sim!": "A=no C=yes",
    "Bom dia Ines, C sim": "C=yes", "A ou C, sim": "", "C sim, se não chover": "",
}  # fmt: skip
TWO = {
    "Ja, beide": "A=yes B=yes", "Beide Termine passen.": "A=yes B=yes", "Both are good": "A=yes B=yes",
    "Les deux me conviennent": "A=yes B=yes", "Oui, les deux": "A=yes B=yes",
    "Los dos me van bien": "A=yes B=yes",
    "Sí, las dos": "A=yes B=yes",
    "Vanno bene tutti e due": "A=yes B=yes", "Sì, entrambi": "A=yes B=yes", "Sim, os dois": "A=yes B=yes",
    "両方大丈夫です": "A=yes B=yes", "Not both": "", "Nicht beide, leider": "", "All fine": "A=yes B=yes",
    "A? Yes.": "", "Yes. A no.": "", "No, A yes": "", "B gut, A nicht": "A=no B=yes",
    "A passt super, B nicht": "A=yes B=no", "A me conviene, B no": "A=yes B=no", "Confermo A, non B": "A=yes B=no",
    "A ótimo, B não": "A=yes B=no", "Aに参加できます。Bは参加できません。": "A=yes B=no", "A ○、B ×": "A=yes B=no",
    "A kaum möglich": "", "A hardly works": "", "A ok, Kim?": "", "A poco bene": "", "A希望ではありません": "A=no",
    "A yes / no": "", "Yes/No": "", "A ja, B non so": "A=yes B=perhaps", "slot a yes": "", "a yes": "", "b please": "",
    "Ja aber": "", "A ja aber": "", "Aber ja": "A=yes B=yes", "A ja, aber\nB nein": "A=yes B=no",
    "A yes.\nUnless it rains.": "", "A ja.\nAber erst ab 4 Uhr.": "", "A yes. I mean B.": "", "No. 1 yes": "",
    "A should work": "", "A may work": "", "A yes\nP.S. B too": "", "A yes. Perhaps not.": "",
    "A: ja, B: nein.": "A=yes B=no", "👍 A, 👎 B": "A=yes B=no", "Both no": "",
}  # fmt: skip


def said(text: str, *slots: OpenSlot) -> str:
    return " ".join(f"{label}={word}" for label, word in read_words(own_lines(text), slots).words)


@pytest.mark.parametrize("text", THREE)
def test_a_printed_answer_says_what_the_mail_says(text: str) -> None:
    assert said(text, A, C, B) == THREE[text]


@pytest.mark.parametrize("text", TWO)
def test_words_without_letters_are_of_both_where_they_say_so(text: str) -> None:
    assert said(text, A, B) == TWO[text]


def test_a_mail_that_is_not_read_whole_is_not_plain() -> None:
    assert said("A yes\n" + "hello\n" * 38 + "B no", A, B) == "A=yes B=no"
    assert said("A yes\n" + "hello\n" * 39 + "B no", A, B) == ""
    assert said("A yes" + " " * 400 + "B no", A, B) == ""
