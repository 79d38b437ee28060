"""What to write for a group that was given as one text or a bare list: its keys and values in braces.

From the key and the text; a part that is not known stands as `...`.
"""

from __future__ import annotations

import re
from typing import Any

from pipeline.inputs import angles_said, days_said, entries_said, keys_said, scalars
from pipeline.inputs.odd_characters import plain
from pipeline.inputs.own_writing import right_form, zone_in
from pipeline.inputs.yaml_tree import Place, Tree

BEARING = r"(\d{1,3}(?:[.,]\d+)?)\s*(?:°|deg\w*|grad\w*|stopni|graus|gradi)?\)?"
GROUPS_IN_LISTS = ("horizon", "survey", "landmarks", "available", "partners", "operators")
# Groups whose figures are said in this order.
IN_TURN = {"outcome_thresholds": ("strong", "workable", "marginal"), "setup_minutes": ("arrive", "align", "check")}


def group_advice(tree: Tree, place: Place, value: Any) -> str | None:
    """Keys and values in place of one value or a bare list, with what was read put in; None where it is too little."""
    names = [part for part in place if not isinstance(part, int)]
    key = str(names[-1]) if names else ""
    if isinstance(value, list) and len(value) == 1 and isinstance(value[0], dict) and key not in GROUPS_IN_LISTS:
        inside = ", ".join(f"{name}: {one}" for name, one in value[0].items() if isinstance(one, str))
        return f"write {{{inside}}}, without a dash or square brackets." if inside else None
    text = (
        ", ".join(map(str, value)) if isinstance(value, list) and all(isinstance(one, str) for one in value) else value
    )
    if not isinstance(text, str):
        return None
    said = plain(text)
    if key == "horizon":
        if re.fullmatch(r"\d{1,2}(?:[.,]\d+)?\s*°?", said):
            height = said.rstrip("° ").replace(",", ".")
            return (
                f"a list of points is meant; for one height all round write `minimum_elevation_deg: {height}` instead."
            )
        if said.casefold().endswith((".csv", ".txt")):
            return f"write {{file: {said}}}."
        if said.casefold() in ("flat", "free", "clear", "open", "none", "no", "0", "frei", "libre", "plat", "plano"):
            return "for a flat skyline write [{azimuth_deg: 0, elevation_deg: 0}]; where nobody knows it, leave it out."
    if key in ("horizon", "survey") and (points := entries_said.points_said(said)):
        written = [f"{{azimuth_deg: {azimuth}, elevation_deg: {height}}}" for azimuth, height in points]
        return f"write {written[0] if len(written) == 1 else days_said.in_brackets(written)}."
    if key == "position":
        return position_advice(said)
    if key == "antenna" or keys_said.is_band(key):
        return equipment_advice(key, said)
    if key == "available":
        return entries_said.hours_advice(said, zone_in(tree))
    number = re.match(r"\d+(?:\.\d+)?", said)
    if key == "slot_minutes" and isinstance(value, list) and len(value) == 2 and all(one.isdigit() for one in value):
        return f"write {{least: {value[0]}, most: {value[1]}}}."
    if key == "setup_minutes" and number and re.fullmatch(r"\d+\D*", said):
        arrive = right_form("arrive", said) or number[0]
        return f"write {{arrive: {arrive}}}: minutes before the first slot; align and check have keys of their own."
    if key == "mount" and number:
        return f"write {{maximum_elevation_deg: {number[0]}}}."
    if key == "battery" and number:
        found = {
            unit.casefold(): figure for figure, unit in re.findall(r"(\d+(?:\.\d+)?)\s*(v|ah)\b", said, re.IGNORECASE)
        }
        return f"write {{voltage_v: {found.get('v', '...')}, capacity_ah: {found.get('ah', '...')}}}."
    if key in IN_TURN:
        figures = re.findall(r"\d+(?:[.,]\d+)?", said)
        turn = IN_TURN[key]
        if len(figures) == len(turn) and re.fullmatch(r"[\d.,/;:|%+\s-]+", said):
            share = key == "outcome_thresholds" and all(float(one.replace(",", ".")) > 1 for one in figures)
            texts = [f"{float(one.replace(',', '.')) / (100 if share else 1):g}" for one in figures]
            inside = ", ".join(f"{name}: {text}" for name, text in zip(turn, texts, strict=True))
            return f"if these are {', '.join(turn)} in turn, write {{{inside}}}."
    if key == "report" and said:
        return f"write {{paper: {'letter' if 'letter' in said.casefold() else 'A4'}}}."
    if key == "sender":
        mail = scalars.MAIL.search(said)
        name = re.sub(r"[<(\[].*", "", said.replace(mail[0], "") if mail else said).strip(" ,;")
        return f"write {{name: {name or '...'}, email: {mail[0] if mail else '...'}}}."
    if key == "landmarks":
        sighted = re.fullmatch(rf"(.*?[^\W\d_].*?)[\s,:;=(]+(?:at|bei|à|a|em|en|w|na|på|på|in)?\s*{BEARING}", said)
        if sighted:
            return f"write {{name: {sighted[1].strip()}, azimuth_deg: {sighted[2].replace(',', '.')}}}."
        return f"write {{name: {said}, azimuth_deg: ...}} with its bearing."
    return None


def position_advice(said: str) -> str | None:
    """A place in one text: a locator or two coordinates."""
    said = said.strip("()[]{} ")
    link = re.search(r"(-?\d+\.\d{2,}),\s*(-?\d+\.\d{2,})", said) if "/" in said else None
    both = angles_said.pair(link[0] if link else said)
    if both:
        return f"write {{latitude_deg: {both[0]}, longitude_deg: {both[1]}}}."
    high = re.fullmatch(r"([A-Za-z]{2}\d\d\w*)[,;\s]+(-?\d+)\s*(?:m|asl|masl)?", said)
    if high:
        return f"write {{locator: {high[1]}, height_m: {high[2]}}}."
    three = re.fullmatch(r"(.+?),\s*(-?\d+(?:\.\d+)?)\s*m?", said)
    both = angles_said.pair(three[1]) if three else None
    if both and three:
        return f"write {{latitude_deg: {both[0]}, longitude_deg: {both[1]}, height_m: {three[2]}}}."
    try:
        return f"write {{locator: {scalars.locator(said)}, height_m: ...}} with the height above sea level in metres."
    except scalars.Refusal:
        return None


def equipment_advice(key: str, said: str) -> str | None:
    """A dish or a power that stands where its key is meant."""
    figure = re.match(r"([\d.,]+)\s*([a-zA-Z\"']*)", said)
    figure = figure or re.search(r"\b([\d.,]*\d)\s*(m|cm|mm|ft|dbi?|w)\b", said, re.IGNORECASE)
    if not figure:
        return None
    kinds = ("dish_diameter_m", "gain_dbi") if key == "antenna" else ("power_w",)
    if key == "antenna" and figure[2].casefold().startswith("db"):
        kinds = ("gain_dbi",)
    for kind in kinds:
        text = right_form(kind, f"{figure[1]} {figure[2]}".strip(), lambda value: 0 < value <= 5000)
        if text:
            return f"write {{{kind}: {text}}}."
    return None
