"""What `measure` reads, in everyday words of several languages. Those of two meanings stand in both."""

from __future__ import annotations

from functools import cache

SOURCES = {
    "sun": "sun sonne soleil sol sole zon solen aurinko słońce slunce slnko sonce sunce nap soare soarele слънце "
    "солнце сонце ήλιος güneş saule päike 太陽 太阳 태양",
    "moon": "moon mond lune luna lua maan måne månen kuu księżyc měsíc mesiac mjesec hold луна місяць φεγγάρι "
    "σελήνη ay mėnulis mēness 月 月亮 달",
    "ground": "ground earth boden erde sol suelo tierra terre terra terreno suolo chão solo grond aarde mark "
    "marken jord jorden maa ziemia grunt země zem zemlja föld pământ земля έδαφος toprak žemė zeme maapind 地面 地 땅",
    "echo": "echo echos écho eco eko ekko kaiku echa ozvěna visszhang ecou эхо ехо ηχώ yankı エコー 回波 에코",
}


@cache
def _sources() -> dict[str, tuple[str, ...]]:
    """What each folded word can stand for."""
    from pipeline.inputs.days_said import folded

    found: dict[str, tuple[str, ...]] = {}
    for source, words in SOURCES.items():
        for word in words.split():
            found[folded(word)] = tuple(dict.fromkeys((*found.get(folded(word), ()), source)))
    return found


def sources_meant(word: str) -> tuple[str, ...]:
    """The sources that a word can stand for."""
    from pipeline.inputs.days_said import folded

    return _sources().get(folded(word), ())
