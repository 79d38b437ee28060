"""Words that stand beside dates and times of day, in many languages: of hours, of whose clock is meant, and fillers.

From memory and common practice; names of months and weekdays are not here but come from the Unicode CLDR.
"""

from __future__ import annotations

from typing import Any


def _listed(text: str) -> frozenset[str]:
    return frozenset(text.split())


def _each(meaning: Any, words: str) -> dict[str, Any]:
    return dict.fromkeys(words.split(), meaning)


# Behind a figure they say that it is an hour.
HOURS = _listed(
    "uhr u h hs hr hrs hour hours heure heures hora horas ora ore uur godz godz. godzina год ч час часов години "
    "o'clock oclock h. hrs. óra órakor tunti saat hodin hod hod. ur lt"
)
# Before a figure they say that it is a time of day.
LEADS = (
    "at", "kl", "kl.", "klo", "klo.", "klokka", "klokken", "klockan", "um", "gegen", "ab", "om", "a las", "a la", "às",
    "as", "alle", "all'", "à", "vers", "o", "ob", "ve", "v", "u", "o godz.", "o godzinie", "godz.", "ora", "ore",
    "la ora", "saat", "в", "о", "στις", "plkst.", "las", "a", "@", "around", "about", "ca.", "c.", "circa",
)  # fmt: skip
HALF_TO = ("halb", "halv", "half", "puoli", "fél", "w pół do", "pół do")
EAST_SIDES = {"午前": "a", "上午": "a", "오전": "a", "午後": "p", "下午": "p", "오후": "p", "晚上": "p"}
CLOCK_WORDS: dict[str, tuple[str, ...]] = {
    **_each(
        ("12:00",),
        "noon midday mittag mittags midi mediodía mediodia mezzogiorno meio-dia middag poledne południe dél",
    ),
    **_each(
        ("00:00", "24:00"),
        "midnight mitternacht minuit medianoche mezzanotte meia-noite middernacht midnatt midnat keskiyö północ "
        "půlnoc éjfél",
    ),
}
# Parts of the day: whether a figure of twelve hours is one of the evening, of the night, or as it stands.
SIDES: dict[str, str] = {
    **_each(
        "evening",
        "evening evenings afternoon abend abends nachmittag nachmittags soir après-midi tarde pomeriggio sera "
        "avond middag kväll kvällen eftermiddag aften ilta illalla wieczór wieczorem večer odpoledne este",
    ),
    **_each(
        "night",
        "night nights nacht nachts nuit noche noite notte natt natten nat yö noc noci éjjel",
    ),
    **_each(
        "",
        "morning morgens vormittag vormittags früh matin madrugada manhã mattina mattino ochtend morgon aamu rano "
        "ráno reggel",
    ),
}
FILLERS = _listed(
    "between entre zwischen tra mellan mellem między tussen "
    "next coming nächsten nächster prochain próximo prossimo volgende nästa neste næste ensi this diesen ce este "
    "the on of in den der die das dem des am an le la les el los l d du de del della il lo em no na o os i e y et und "
    "and en og och ja a ai al az w we den. dne dia día día jour tag giorno dag päivä day date datum fecha data date "
    "time zeit hora heure ora tid aika night-of von vom from start starting beginning beginn about ca circa ungefähr "
    "environ noin okolo kb s st nd rd th para pour für for per at um à à às as roku r year jahr año ano année anno"
)
RELATIVE: dict[str, int] = {
    **_each(
        0,
        "today tonight heute heute-nacht hoy aujourd'hui oggi stasera hoje vandaag vanavond idag ikväll tänään "
        "dziś dzisiaj dnes danas ma bugün сегодня 今日 今夜 今天 오늘",
    ),
    **_each(
        1,
        "tomorrow demain domani amanhã imorgon huomenna jutro zítra zajtra sutra holnap yarın завтра 明日 明天 내일",
    ),
    **_each(
        -1,
        "yesterday gestern ayer hier ieri ontem gisteren igår eilen wczoraj včera jučer tegnap dün "
        "вчера 昨日 昨天 어제",
    ),
}
# Abbreviations of zones in their own letters.
ZONES_CALLED = {
    "мск": "msk",
    "tsi": "trt",
    "tsi\u0307": "trt",
    "seč": "cet",
    "oez": "eet",
    "oesz": "eest",
    "wez": "wet",
    "hec": "cet",
    "eastern": "et",
    "pacific": "pt",
}
# Peoples whose country has one zone, or one that is meant.
ZONES_OF = {
    **_each("Europe/Oslo", "norsk norsk"),
    **_each("Europe/Stockholm", "svensk schwedischer"),
    **_each("Europe/Copenhagen", "dansk dänischer"),
    **_each("Europe/Helsinki", "finsk suomen finnischer finnish"),
    **_each("Europe/Berlin", "tysk deutscher deutsche german duitse alemana tedesca allemande"),
    **_each("Europe/Paris", "fransk französischer french française francesa francese franse"),
    **_each("Europe/Rome", "italiensk italienischer italian italiana italienne"),
    **_each("Europe/Madrid", "spansk spanischer spanish española spagnola espagnole"),
    **_each("Europe/London", "brittisk britischer british uk englischer english"),
    **_each("Europe/Amsterdam", "nederlandse dutch holländischer"),
    **_each("Europe/Warsaw", "polsk polnischer polish polskiego"),
    **_each("Europe/Prague", "tschechischer czech českého"),
    **_each("Asia/Tokyo", "japansk japanischer japanese japonaise"),
    **_each("America/New_York", "eastern"),
    **_each("America/Chicago", "central"),
    **_each("America/Denver", "mountain"),
    **_each("America/Los_Angeles", "pacific"),
}
# Whose clock is meant, as regular expressions; longer ones first.
ZONE_PHRASES: dict[str, str] = {
    r"(?:your|ihre|deine|ihrer|deiner|votre|ton|su|tu|tuo|sua|seu|uw|jouw|din|waszego|your's)\s+"
    r"(?:local\s+)?(?:time|clock|zeit|uhr|heure|hora|ora|tijd|tid)": "home",
    r"(?:my|his|her|their|partner'?s?|the partner'?s)\s+(?:local\s+)?(?:time|clock|zeit)": "partner",
    r"(?:meine[rs]?|seine[rs]?|mon|son|mi|mio|mia|minha|meu|mijn|min|hans|hendes)\s+"
    r"(?:uhr|zeit|heure|hora|ora|tijd|tid)": "partner",
    r"local(?:\s+time)?|lokal\s?zeit|ortszeit|heure\s+locale|hora\s+local|ora\s+locale|lokal\s+tid|lokaltid|"
    r"plaatselijke\s+tijd|lokale\s+tijd|paikallista(?:\s+aikaa)?|czasu\s+lokalnego|místního\s+času|lt|loc\.?": "local",
    r"partner(?:'?s)?(?:\s+clock|zeit)?": "partner",
    r"(?:at\s+)?home|own\s+clock|heimzeit": "home",
}
