"""Groups read by what their keys mean: one answer a slip, and every answer tried by writing what it says.

The slips are those of operators with an editor (common practice, no source).
"""

# ruff: noqa: E501 - a slip a line reads as a table
from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from pipeline.inputs import repair
from pipeline.inputs.entries_together import told_together
from pipeline.inputs.faults import InputFaults
from pipeline.inputs.line_shapes import shapes_of
from pipeline.inputs.mending import load_mended, without_twins
from pipeline.inputs.missing_years import with_years
from pipeline.inputs.reading import read_season_files
from pipeline.inputs.season import read_season
from pipeline.inputs.station import read_station
from pipeline.inputs.zone_of_place import zone_of
from tests.inputs.helpers import HOME, PARTNER, SEASON

HEAD = "call: QF4LUM\nposition: {locator: JN58td, height_m: 520}\ntime_zone: Europe/Berlin\n"
BAND = "bands:\n  3cm: {antenna: {dish_diameter_m: 3}, power_w: 20}\n"
# What stands below the first three lines, the line of the answer, and what it says to write.
GROUPS = [
    ("bands:\n  3cm: {antenna: {dish_diameter_m: 1.2, power_w: 20}\n", 5, "a bracket } is missing behind 1.2; write `3cm: {antenna: {dish_diameter_m: 1.2}, power_w: 20}`."),
    ("bands:\n  3cm: antenna: dish_diameter_m: 1.2, power_w: 20\n", 5, "write `3cm: {antenna: {dish_diameter_m: 1.2}, power_w: 20}`."),
    ("bands:\n  3cm:\n    power_w 0,04 kW\n    antenna: {dish_diameter_m: 1.8}\n", 6, "0,04 kW is written 40; write `power_w: 40`."),
    (f"{BAND}horizon:\n  azimuth: 90, elevation: 2,5\n  azimuth: 120, elevation: 4\n", 7, "write `- {azimuth_deg: 90, elevation_deg: 2.5}`, in line 8 `- {azimuth_deg: 120, elevation_deg: 4}`."),
    (f"{BAND}horizon:\n  - azimuth: 90, elevation: 2,5\n", 7, "2,5 is written 2.5 and keys in one line stand in braces; write `- {azimuth_deg: 90, elevation_deg: 2.5}`."),
    (f"{BAND}horizon:\n  90: 2,5\n  120: 4\n", 7, "write `- {azimuth_deg: 90, elevation_deg: 2.5}`, in line 8 `- {azimuth_deg: 120, elevation_deg: 4}`."),
    (f"{BAND}horizon:\n  azimuth_deg: 90\n  elevation_deg: 2.5\n", 7, "write `- {azimuth_deg: 90, elevation_deg: 2.5}`, and take line 8 out."),
    (f"{BAND}horizon: 90=2,5; 120=4\n", 6, "write [{azimuth_deg: 90, elevation_deg: 2.5}, {azimuth_deg: 120, elevation_deg: 4}]."),
    (f"{BAND}available:\n  days: [fri, sat], from: 18:00, to: 23:00\n", 7, "write `- {days: [fri, sat], from: 18:00, to: 23:00}`."),
    (f"{BAND}available:\n  fri: 18-23\n  sat: 16-23\n", 7, "write `- {days: [fri], from: 18:00, to: 23:00}`, in line 8 `- {days: [sat], from: 16:00, to: 23:00}`."),
    (f"{BAND}available: fri,sat 18:00-23:00 UTC\n", 6, "in January that is {days: [fri, sat], from: 19:00, to: 00:00}, in July {days: [fri, sat], from: 20:00, to: 01:00}; write the one of your months."),
    (f"{BAND}available:\n  - fri, sat 18-23 UTC\n", 7, "by the station's own clock (Europe/Berlin), not UTC"),
    (f"{BAND}available:\n  days: [fri, sat]\n", 6, "available.from and available.to are missing; write for instance `from: 18:00, to: 23:30`."),
    (f"{BAND}#available:\n  - {{days: [fri], from: 18:00, to: 23:00}}\n", 7, "below `available:` in line 6, which is still a comment; take its # away too."),
    (f"{BAND}  - {{days: [fri], from: 18:00, to: 23:00}}\n", 6, "this is an entry of `available:`; write `available:` in a line of its own above it."),
    ("bands:\n  3cm: antenna: {dish_diameter_m: 3}, power_w: 20}\n", 5, "write `3cm: {antenna: {dish_diameter_m: 3}, power_w: 20}`."),
    ("bands:\n  - band: 3cm\n    power_w: 20\n", 5, "a dash stands where no list is meant; write `3cm:`."),
    ("bands.3cm.antenna.dish_diameter_m: 1.2\nbands.3cm.power_w: 20\n", 4, "write `bands: {3cm: {antenna: {dish_diameter_m: 1.2}, power_w: 20}}`, and take line 5 out."),
    ("BANDS :\n  3CM :\n    POWER_W : 25\n", 4, "keys are written in small letters; write `bands:`, in line 5 `3cm:`, in line 6 `power_w: 25`."),
    ("bands:\n  3cm:\n    antenna: {gain_dbi: 42,5 dBi}\n", 6, "42,5 dBi is written 42.5; write `antenna: {gain_dbi: 42.5}`."),
    (f"{BAND}mount: maximum_elevation_deg 85, inclinometer_offset_deg 0,4\n", 6, "write `mount: {maximum_elevation_deg: 85, inclinometer_offset_deg: 0.4}`."),
    (f"{BAND}mount:\n  - maximum_elevation_deg: 85\n  - azimuth_from_deg: 200\n  - azimuth_to_deg: 160\n", 7, "a dash stands where no list is meant; write `maximum_elevation_deg: 85`, in line 8 `azimuth_from_deg: 200`, in line 9 `azimuth_to_deg: 160`."),
    (f"{BAND}horizon:\n  N: 5\n  E: 7,5\n", 7, "write `- {azimuth_deg: 0, elevation_deg: 5}`, in line 8 `- {azimuth_deg: 90, elevation_deg: 7.5}`."),
    (f"{BAND}horizon:\n  azimuth_deg\televation_deg\n  0\t2,0\n  90\t7,5\n", 7, "this line is no key with its value; write in line 8 `- {azimuth_deg: 0, elevation_deg: 2.0}`, in line 9 `- {azimuth_deg: 90, elevation_deg: 7.5}`, and take line 7 out."),
    (f"{BAND}horizon: {{azimuth_deg: 0, elevation_deg: 2}}, {{azimuth_deg: 90, elevation_deg: 7}}\n", 6, "write `horizon: [{azimuth_deg: 0, elevation_deg: 2}, {azimuth_deg: 90, elevation_deg: 7}]`."),
    (f"{BAND}horizon:\n  -- {{azimuth_deg: 0, elevation_deg: 2}}\n", 7, "an entry of a list begins with one dash; write `- {azimuth_deg: 0, elevation_deg: 2}`."),
    (f"{BAND}landmarks:\n  1) name: church, azimuth_deg: 231\n  2) name: mast, azimuth_deg: 12\n", 7, "write `- {name: church, azimuth_deg: 231}`, in line 8 `- {name: mast, azimuth_deg: 12}`."),
    (f"{BAND}landmarks:\n  - church: 231\n  - mast: 12,5\n", 7, "write `- {name: church, azimuth_deg: 231}`, in line 8 `- {name: mast, azimuth_deg: 12.5}`."),
    (f"{BAND}available:\n  - {{days: [man, tirs, ons], from: kl 18, to: kl 23}}\n", 7, "write `- {days: [mon, tue, wed], from: 18:00, to: 23:00}`."),
    (f"{BAND}available: {{mon: 18-22, sat: 10-24}}\n", 6, "write `available: [{days: [mon], from: 18:00, to: 22:00}, {days: [sat], from: 10:00, to: 24:00}]`."),
    (f"{BAND}available: Wochenende ab 18 Uhr\n", 6, "write {days: [sat, sun], from: 18:00, to: 24:00}."),
    (f"{BAND}available: never\n", 6, "a station that is never free is no partner; take it out of the season"),
    (f"{BAND}battery:\n  - 12.8 V\n  - 160 Ah\n", 6, "write {voltage_v: 12.8, capacity_ah: 160}."),
    (f"> {BAND}".replace("\n  3", "\n>   3"), 4, "the mark > of an answered mail stands before the line; take it away: `bands:`, in line 5 `3cm: {antenna"),
    (f"{BAND}language. de\n", 6, "'.' stands where a colon is meant; write `language: de`."),
    ("bands:\n  3cm:\n    noise_figure_db: NF 0,8\n", 6, "if 0,8 is meant, write 0.8."),
    ("bands:\n  3cm:\n    frequency_accuracy_hz: +/- 5 Hz\n", 6, "write the number alone: 5."),
    ("bands:\n  3cm:\n    polarization: liniowa pionowa\n", 6, "write vertical."),
    ("bands:\n  3cm:\n    modes: Q65-30B/CW\n", 6, "write [Q65, CW]."),
    ("bands:\n  3cm:\n    power_w: 1'000 mW\n", 6, "watts are meant; write 1."),
    ("bands:\n  3cm, 6cm: {power_w: 20}\n", 5, "one band a line: write `3cm:` and `6cm:`"),
    (f"{BAND}minimum_elevation_deg: ca 5 grader\n", 6, "write the number alone: 5."),
    (f"{BAND}hours_to_get_there: 45 min\n", 6, "hours are meant; write 0.75."),
    (f"{BAND}horizon: 5\n", 6, "for one height all round write `minimum_elevation_deg: 5` instead."),
    (f"{BAND}unavailable_dates: du 1 au 15 août 2027\n", 6, "is meant, write 2027-08-01/2027-08-15."),
    (f"{BAND}unavailable_dates: 2027-03-13 to 15\n", 6, "write 2027-03-13/2027-03-15."),
    (f"{BAND}holidays: germany-bavaria\n", 6, "if germany is meant, write DE."),
    ("band: 3cm\ndish_diameter_m: 1.2\npower_w: 40\n", 4, "write `bands:` and, on a line of its own, `  3cm:`, in line 5 `    antenna: {dish_diameter_m: 1.2}`"),
    ("bands:\n  3cm:\n    <power_w>40</power_w>\n", 6, "keys stand before a colon, not in tags; write `power_w: 40`."),
    (f"{BAND}operator:\nMira Oak\n", 7, "write in line 6 `operator: Mira Oak`, and take line 7 out."),
    (f"{BAND}horizon:\n0;2,5\n90;7,5\n", 7, "write `  - {azimuth_deg: 0, elevation_deg: 2.5}`, in line 8 `  - {azimuth_deg: 90, elevation_deg: 7.5}`."),
    (f"{BAND}landmarks:\n  - Church tower: 55.70, 12.60\n", 7, "write `- {name: Church tower, latitude_deg: 55.70, longitude_deg: 12.60}`."),
    (f"{BAND}checklist:\n  - Set the drive to its lowest before the\ncable goes on\n", 8, "this line goes on with the entry above; begin it with 4 spaces: `cable goes on`."),
    (f"{BAND}mount: <maximum_elevation_deg: 85>\n", 6, "keys and values stand in braces; write `mount: {maximum_elevation_deg: 85}`."),
    (f"{BAND}mount: {{'maximum_elevation_deg'='85'}}\n", 6, "write `mount: {maximum_elevation_deg: 85}`."),
    (BAND.replace("  3cm", "  • 3cm").replace("bands", "• bands"), 4, "the line holds the bullet •; write `bands:`, in line 5 `3cm: {antenna"),
    (f"{BAND}available: Fri evening, Sat all day\n", 6, "write [{days: [fri], from: 18:00, to: 23:30}, {days: [sat], from: 00:00, to: 24:00}]."),
    (f"{BAND}unavailable_dates: 1.4., 5.4. und 9.4.2027\n", 6, "write [2027-04-01, 2027-04-05, 2027-04-09]."),
    ("bands:\n  3cm:\n    modes: [Q65, morse]\n", 6, "did you mean 'CW'?"),
    (f"{BAND}horizon:\n  azimuth_deg: [0, 80]\n  elevation_deg: [3, 1.5]\n", 7, "write `  - {azimuth_deg: 0, elevation_deg: 3}` and, on a line of its own, `  - {azimuth_deg: 80, elevation_deg: 1.5}`, and take line 8 out."),
    (f"{BAND}horizon: {{az: [0; 80; 90], el: [3,5; 1,5; 2]}}\n", 6, "{azimuth_deg: 0, elevation_deg: 3.5}, {azimuth_deg: 80, elevation_deg: 1.5}, {azimuth_deg: 90, elevation_deg: 2}"),
    (f"{BAND}available:\n  - {{days: [sat, sun], from: 09:00, to: 12:30, from: 15:00, to: 23:00}}\n", 7, "and, on a line of its own, `  - {days: [sat, sun], from: 15:00, to: 23:00}`."),
    (f"{BAND}available:\n  - {{days: [sat], from: moonrise, to: moonset}}\n", 7, "moonrise is written 00:00 and moonset is written 24:00; write `- {days: [sat], from: 00:00, to: 24:00}`."),
    (f"{BAND}available:\n  - {{days: [sat], from: sunset, to: 23:00}}\n", 7, "hours of your clock are meant, such as 18:00 or 23:30."),
    (f"{BAND}landmarks:\n  Church tower: {{latitude: 55.70, longitude: 12.60}}\n", 7, "write `- {name: Church tower, latitude_deg: 55.70, longitude_deg: 12.60}`."),
    (f"{BAND}battery: {{voltage_v: 12.8, capacity_ah: 200, usable_fraction: 150 Ah, receive_a: 3, transmit_a: 18, other_a: 2}}\n", 6, "a share of the 200 Ah is meant; write 0.75."),
    ("bands:\n  3cm:\n    power_w: 60 W minus 3 dB cable\n", 6, "watts are meant; write 30.1."),
    ("bands:\n  3cm:\n    power_w: 30   // at the feed\n", 6, "write 30 alone; a note comes after ` # `."),
    (f"{BAND}unavailable_dates: [6/3, 14-16/3]\n", 6, "6/3 is written 2027-03-06, 14-16/3 is written 2027-03-14/2027-03-16; write [2027-03-06, 2027-03-14/2027-03-16]."),
    (f"{BAND}unavailable_dates: [06/03/2027 a 10/03/2027]\n", 6, "by the season's write 2027-03-06/2027-03-10."),
    (f"{BAND}unavailable_dates: 13/03/2027\n", 6, "write 2027-03-13."),
    (f"{BAND}available:\n  - {{days: [pt, sob, nd], from: 18:00, to: 23:00}}\n", 7, "pt is written fri, sob is written sat, nd is written sun; write [fri, sat, sun]."),
    (f"{BAND}call: QB7MAR\nposition: {{locator: GF51oi}}\n", 6, "a second station QB7MAR begins here, and a file holds one; put its lines, from here on, into a file of its own, qb7mar.yaml."),
    (f"{BAND}horizon:\n  - azimuth_deg: 90\n  - elevation_deg: 2.5\n  - azimuth_deg: 120\n  - elevation_deg: 4\n", 8, "4 spaces before the others; write `elevation_deg: 2.5`, in line 10 `elevation_deg: 4`."),
    (f"{BAND}available:\n  - {{days: [mon..thu], 17:00-22:30}}\n", 7, "write `- {days: [mon, tue, wed, thu], from: 17:00, to: 22:30}`."),
    (f"{BAND}available:\n  - {{days: [fri], from: 18:00, to: 23:00}}\n  - {{except: 13.3.2027}}\n", 8, "a key of their own, at the left margin: `unavailable_dates: [2027-03-13]`."),
    (f"{BAND}landmarks: church tower at 112,5 degrees\n", 6, "write {name: church tower, azimuth_deg: 112.5}."),
    (f"{BAND}mount: {{maximum_elevation_deg: 80, azimuth_from_deg: 40 to 330}}\n", 6, "these are both ends; write azimuth_from_deg: 40, azimuth_to_deg: 330."),
    (f"{BAND}checklist: - Feed cover off\n           - Ropes tight\n", 6, "below it in the column of the next, `           - Feed cover off`."),
    ("bands:\n    antenna: {dish_diameter_m: 3}\n    power_w: 50\n    noise_figure_db: 0.8\n", 5, "the line with the band is missing; write `  3cm:`, or which band it is, above this line."),
    ("bands:\n  power_w: 50\n  antenna: {dish_diameter_m: 3}\n", 5, "above this line, and begin the lines below it two further in."),
    (f"{BAND}checklist: [Ropes]\nchecklist: [Cover]\n", 7, "write `checklist: [Ropes, Cover]`, and take line 6 out."),
    (f"{BAND}language: de\nlanguage: de\n", 7, "take this line out, it says the same."),
    (f"{BAND}#landmarks:\n  - {{name: Mast, azimuth_deg: 20}}\n  - {{name: Tower, azimuth_deg: 312.4}}\n", 7, "this line stands below `landmarks:` in line 6, which is still a comment; take its # away too."),
    (f"{BAND}minimum_elevation_deg: none\n", 6, "for none write 0, and leave it out, key and all, where nobody knows it."),
    (f"{BAND}email: jozsef[kukac]tisza.example\n", 6, "write jozsef@tisza.example."),
    (f"{BAND}email: anna (zavináč) hora [tečka] example\n", 6, "write anna@hora.example."),
    (f"{BAND}hours_to_get_there: 0:40\n", 6, "hours are meant; write 0.667."),
    (f"{BAND}hours_to_get_there: 1h30\n", 6, "hours are meant; write 1.5."),
    (f"{BAND}landmarks:\n  - {{name: Mast, azimuth_deg: 312° mag}}\n", 7, "a bearing from true north is meant: add the declination of the place"),
    (f"{BAND}battery: {{voltage_v: 12.8, capacity_ah: 2 x 80 Ah, usable_fraction: 0.8, receive_a: 3, transmit_a: 18, other_a: 2}}\n", 6, "ampere-hours are meant; write 160."),
    (f"{BAND}partners:\n  - {{call: QH5TIS, priority: 1}}\n", 6, "that belongs in the season's file: `partners: [{call: QH5TIS, priority: 1}]`."),
    ("bands:\n  3cm: {antenna: {dish_diameter_m: 1.2, power_w: 20, noise_figure_db: 0.9}}\n", 5, "a bracket } stands too late; write `3cm: {antenna: {dish_diameter_m: 1.2}, power_w: 20, noise_figure_db: 0.9}`."),
    (f"{BAND}mount: {{maximum_elevation_deg: 80; azimuth_from_deg: 30; azimuth_to_deg: 330}}\n", 6, "a semicolon stands where a comma is meant before azimuth_from_deg; write `mount: {maximum_elevation_deg: 80, azimuth_from_deg: 30, azimuth_to_deg: 330}`."),
    ("bands:\n3cm:\n    antenna: {dish_diameter_m: 3}\n    power_w: 50\n", 5, "begin its line with 2 spaces: `3cm:`."),
    ("bands:\n3cm:\n  antenna: {dish_diameter_m: 3}\n  power_w: 50\n", 5, "`3cm:`, and begin the lines below it two further in."),
    ("bands:\n  3cm:\n    antenna: {dish_diameter_m: 3}\n    power_w: 35\n    power_w: 60\n", 8, "keep one of them: 35 there, 60 here."),
    (f"{BAND}available:\n  - {{days: [sun], from: 9u, to: 22u30}}\n", 7, "9u is written 09:00 and 22u30 is written 22:30; write `- {days: [sun], from: 09:00, to: 22:30}`."),
    (f"{BAND}available:\n  - {{days: [fri, sat], from: 14:00, to: 23:00}}\n  - {{days: Mittwoch, from: 9:00, to: 22:00}}\n", 8, "did you mean 'wed'?"),
    (f"{BAND}unavailable_dates: [5 March, 20-22 March]\n", 6, "write [2027-03-05, 2027-03-20/2027-03-22]."),
    (f"{BAND}unavailable_dates: every Friday\n", 6, "days of the week stand in available: leave fri out there."),
    (f"{BAND}unavailable_dates: Mondays and Tuesdays\n", 6, "days of the week stand in available: leave mon, tue out there."),
    (f"{BAND}unavailable_dates: todos los lunes\n", 6, "days of the week stand in available: leave mon out there."),
    (f"{BAND}holidays: [PL, 2027-02-14]\n", 6, "write `holidays: PL`, and dates of your own in `unavailable_dates: [2027-02-14]`."),
    (f"{BAND}available:\n  - fri, sat: 14:00-22:00\n", 7, "write `- {days: [fri, sat], from: 14:00, to: 22:00}`."),
    (f"{BAND}available:\n  - {{days: [sat], from: 14:00, to: open}}\n", 7, "write 24:00 for the end of the day"),
    (f"{BAND}available:\n  - {{days: weekend, hours: 14-24}}\n", 7, "write `- {days: [sat, sun], from: 14:00, to: 24:00}`."),
    (f"{BAND}battery: {{voltage: 12.8, capacity: 100, usable: 80%, rx: 3, tx: 14, other: 1.5}}\n", 6, "write `battery: {voltage_v: 12.8, capacity_ah: 100, usable_fraction: 0.8, receive_a: 3, transmit_a: 14, other_a: 1.5}`."),
    (f"{BAND}battery: {{voltage_v: 12.8, capacity_wh: 1280, usable_fraction: 0.8, receive_a: 3, transmit_a: 14, other_a: 2}}\n", 6, "ampere-hours are meant; at 12.8 V write `capacity_ah: 100`."),
    (f"{BAND}mount: {{maximum_wind_m_s: 5 Bft}}\n", 6, "metres a second are meant; write 9.35."),
    ("bands:\n  - 3cm\n    antenna: {dish_diameter_m: 3}\n    power_w: 50\n", 5, "write `3cm:`."),
    (f"{BAND}language: [fr, en]\n", 6, "one value is meant; write one of them, fr or en."),
    ("[bands.3cm]\nantenna = 1.8 m\npower_w = 25\n", 4, "write `bands:` and, on a line of its own, `  3cm:`, in line 5 `    antenna: {dish_diameter_m: 1.8}`, in line 6 `    power_w: 25`."),
    (f"{BAND}sites:\n  - name: Hill\n    position: {{locator: JN58te}}\n", 6, "put `Hill:` in place of the lines with `- name`"),
    (f"{BAND}sites:\n  Hill:\n    locator: JN58te\n", 8, "unknown key 'locator' in sites.Hill; write `position: {locator: JN58te}`."),
    ("bands:\n  3cm:\n    power: 25 W\n    power_w: 25\n", 6, "power_w stands in line 7 already; take this one out."),
    ("bands:\n  3cm:\n    frequency_accuracy_hz: ±50\n", 6, "write 50."),
    ("bands:\n  3cm:\n    power_w: 40 dBW\n", 6, "a power at the feed in watts is meant, more than 0, at most 5000."),
]  # fmt: skip
ZONES = [
    ("UTC+13", "by the station's place write Pacific/Auckland."),
    ("UTC-02", "in Pacific/Auckland, whose clock differs: one of the two is wrong."),
]
PLACES = [
    ("latitude_deg: 44.26.19, longitude_deg: 11.02.50", "", "write `position: {latitude_deg: 44.43861, longitude_deg: 11.04722}`."),
    ("latitude_deg: 38.705, longitude_deg: -9142", "Europe/Lisbon", "by Europe/Lisbon write -9.142."),
    ("latitude_deg: 38705, longitude_deg: -9142", "Europe/Lisbon", "write `position: {latitude_deg: 38.705, longitude_deg: -9.142}`."),
    ("latitude_deg: -3188, longitude_deg: 116205", "Australia/Perth", "it has lost its decimal point; write -3.188 or -31.88."),
    ("latitude_deg: 64.07, longitude_deg: -21883", "", "it has lost its decimal point; write -2.1883 or -21.883."),
    ("latitude_deg: \"30°12'38 S\", longitude_deg: \"70°49'13 O\"", "America/Santiago", "-70.82028"),
    ("latitude_deg: 0.5, longitude_deg: 181", "", "-180 to 180."),
]  # fmt: skip
SEASONS = [
    ("policy:\nslot_minutes: 60\ngap_minutes: 15\n  latest_hour_on_work_nights: \"23:30\"", "in line 4 `  gap_minutes: 15`."),
    ("months: Q1 2027", "write [2027-01, 2027-02, 2027-03]."),
    ("months: 3/27", "write 2027-03."),
    ("months: 2027-03..04", "write [2027-03, 2027-04]."),
    ("policy: {outcome_thresholds: 90/60/25}", "if these are strong, workable, marginal in turn, write {strong: 0.9, workable: 0.6, marginal: 0.25}."),
    ("policy: {setup_minutes: 2h}", "write {arrive: 120}"),
    ("policy: {maximum_nights: vier}", "write 4."),
    ("policy: {gap_minutes: 1/4 h}", "minutes are meant; write 15."),
    ("partners: [QF4LUM 2x]", "write {call: QF4LUM, contacts_wanted: 2}."),
    ("report: A4 quer", "write {paper: A4}."),
    ("months: [2027-03, April]", "the year is missing; by the season's write 2027-04."),
    ("policy: {first_to_transmit: QM7TOR}", "write home."),
    ("policy: {first_to_transmit: qf4lum}", "write partner."),
    ("partners:\n  QF4LUM: {priority: 2}\n  QG8FEN:\n    priority: 1", "write `- {call: QF4LUM, priority: 2}`, in line 4 `- {call: QG8FEN, priority: 1}`"),
    ("months: [2027-03]\nletters:\n  reply_by: fine febbraio", "the year is missing; by the season's write 2027-02-28."),
    ("months: [2027-02]\nletters:\n  reply_by: 20. Dezember", "the year is missing; by the season's write 2026-12-20."),
    ("partners:\n  - {call: QF4LUM}\n#policy:\n#  gap_minutes: 15\n  maximum_nights: 4\n  nights: [fri]", "this line stands below `policy:` in line 4, which is still a comment; take its # away too."),
    ("letters:\n  meet: telephone: +00 000", "put text with a colon in quotes: `meet: \"telephone: +00 000\"`."),
    ("policy:\n  nights: not Monday", "write [tue, wed, thu, fri, sat, sun]."),
    ("policy: {setup_minutes: 90+40+20}", "write {arrive: 90, align: 40, check: 20}."),
    ("policy: {setup_minutes: {arrival: 90, alignment: 40, checks: 20}}", "{arrive: 90, align: 40, check: 20}"),
    ("policy:\n  slot_minutes: {45, 60}", "write `slot_minutes: {least: 45, most: 60}`."),
    ("months: [2027-03-01, 2027-03-31]", "write [2027-03]."),
    ("frequency_mhz: 10368.090-10368.110", "for 10368.090 to 10368.110 write for instance 10368.1."),
    ("band: 10 GHz (3 cm)", "did you mean '3cm'?"),
]  # fmt: skip


@pytest.mark.parametrize(("line", "words"), SEASONS)
def test_one_answer_a_slip_of_a_season(line: str, words: str) -> None:
    tree, faults = load_mended(f"home: QM7TOR\n{line}\n".encode(), "season.yaml", Path())
    assert tree is not None
    trees = {"season.yaml": tree}
    told = told_together(with_years([*faults, *read_season(tree).faults], tree, trees), trees)
    ((number, sentence),) = [(one.line, one.message) for one in told]
    assert (number, words in sentence) == (
        6 if "#policy" in line else 4 if "letters:\n  reply" in line else 3 if ":\n" in line else 2,
        True,
    ), sentence


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ("locator: JN38ab\nheight: 340 m", "write `position: {locator: JN38ab, height_m: 340}`, and take line 3 out."),
        ("position: (52.1, 5.2, 12)", "write {latitude_deg: 52.1, longitude_deg: 5.2, height_m: 12}."),
        (
            "position:\n  lat 52.1\n  lon 5.2\n  alt 12",
            "write `latitude_deg: 52.1`, in line 4 `longitude_deg: 5.2`, in line 5 `height_m: 12`.",
        ),
        (
            "[position]\nlatitude_deg = 52.1\nlongitude_deg = 5.2",
            "write `position:`, in line 3 `  latitude_deg: 52.1`, in line 4 `  longitude_deg: 5.2`.",
        ),
    ],
)
def test_a_place_laid_out_otherwise(tmp_path: Path, lines: str, words: str) -> None:
    told = answers(tmp_path, f"call: QF4LUM\n{lines}\n{BAND}")
    assert len(told) == 1
    assert words in told[0][1]


@pytest.mark.parametrize(("place", "zone", "words"), PLACES)
def test_a_coordinate_that_lost_its_point(tmp_path: Path, place: str, zone: str, words: str) -> None:
    """The point goes where the station's zone has its clock: Lisbon by any atlas; Perth's clock is that of Borneo too."""
    told = answers(tmp_path, f"call: QF4LUM\nposition: {{{place}}}\n{f'time_zone: {zone}' if zone else ''}\n{BAND}")
    assert words in told[0][1], told


def answers(folder: Path, text: str) -> list[tuple[int | None, str]]:
    """Line and sentence of every fault of a partner's file."""
    for stem, other in (("qm7tor", HOME), ("season", SEASON), ("qf4lum", text)):
        (folder / f"{stem}.yaml").write_text(other, encoding="utf-8")
    return [(one.line, one.message) for one in InputFaults(read_season_files(folder / "season.yaml").faults).faults]


def as_told(text: str, line: int, sentence: str) -> str:
    """The text with the lines that an answer says to write, each in its line."""
    lines = text.split("\n")
    told = re.findall(r"(?:in line (\d+) )?`([^`]+)`", sentence.rsplit("write ", 1)[1])
    column = re.search(r"(\d+) spaces before the others", sentence)
    for number, right in told:
        at = int(number or line) - 1
        lines[at] = (
            ""
            if right[0] == " "
            else " " * int(column[1])
            if column
            else lines[at][: len(lines[at]) - len(lines[at].lstrip())]
        ) + right
    for number in re.findall(r"\d+", sentence.partition("take line")[2]):
        lines[int(number) - 1] = ""
    return "\n".join(lines)


@pytest.mark.parametrize(("group", "line", "words"), GROUPS)
def test_one_answer_a_slip_and_it_is_right(tmp_path: Path, group: str, line: int, words: str) -> None:
    told = answers(tmp_path, HEAD + group)
    assert [number for number, _ in told] == [line], told
    assert words in told[0][1]
    if "; write `" in told[0][1] and not re.search("a line of its own|above this line", words):
        assert answers(tmp_path, as_told(HEAD + group, line, told[0][1])) == []


def slips_of(text: str) -> Iterator[tuple[int, str]]:
    """The text with one mark lost, doubled, shifted or taken for another: the line (from 1) and what comes of it."""
    lines = text.split("\n")
    for at, line in enumerate(lines):
        changed = [
            f" {line}",
            f"  {line}",
            line.replace(": ", " = ", 1),
            line.replace(": ", ":", 1),
            f"\t{line.lstrip()}",
        ]
        for place, mark in enumerate(line):
            before, behind = line[:place], line[place + 1 :]
            changed += [before + behind] * (mark in "{}[],:") + [before + mark + mark + behind] * (mark in "{}[]")
            changed += [
                f"{before}{other}{behind}" for other in {"{": "(", "}": "]", "[": "(", "]": "}", ",": ";"}.get(mark, "")
            ]
        for one in dict.fromkeys(changed):
            if one != line and line:
                yield at + 1, "\n".join([*lines[:at], one, *lines[at + 1 :]])


def faults_in(text: str) -> list[tuple[int | None, str]]:
    """What is told of a station's file by itself."""
    tree, faults = load_mended(text.encode(), "a.yaml", Path())
    faults = [*faults, *(without_twins(faults, read_station(tree).faults) if tree else ())]
    return [(one.line, one.message) for one in InputFaults(faults).faults]


WHOLE = f"""\
{HEAD}horizon:
  - {{azimuth_deg: 0, elevation_deg: 2.5}}
  - {{azimuth_deg: 90, elevation_deg: 7.5}}
mount: {{maximum_elevation_deg: 85, azimuth_from_deg: 200, azimuth_to_deg: 160}}
available:
  - {{days: [mon, tue, wed], from: 18:00, to: 23:30}}
  - {{days: [fri, sat], from: 16:00, to: 03:00}}
unavailable_dates: [2027-03-12, 2027-03-20/2027-03-22]
bands:
  3cm:
    antenna: {{dish_diameter_m: 1.8, aperture_efficiency: 0.55}}
    power_w: 40
    modes: [Q65, CW]
"""


def test_a_mark_lost_or_changed_anywhere_has_one_answer_at_its_line() -> None:
    """Every second of all such slips: never two answers, each at its line or the next, and most mend when written."""
    assert faults_in(WHOLE) == []
    told = mended = 0
    for line, text in list(slips_of(WHOLE))[::2]:
        answers = faults_in(text)
        if not answers:
            continue  # it reads as before
        ((number, sentence),) = answers
        assert number is not None, (text, answers)
        assert abs(number - line) <= 1, (text, answers)
        told += 1
        if "write `" in sentence:
            mended += faults_in(as_told(text, number, sentence)) == []
    assert told > 80
    assert mended > 0.7 * told


def test_what_stands_for_nothing_known_is_left_to_the_rules(tmp_path: Path) -> None:
    """A word that is no key, and a key that stands twice with two values, give no reading."""
    for group in ("mount: maximum 85, color: red\n", "bands:\n  3cm: {power_w: 20, power_w: 40\n"):
        assert all("is called" not in sentence for _, sentence in answers(tmp_path, HEAD + group))


def test_work_on_a_spoiled_file_is_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    """However many groups and lines are amiss, so many readings are tried and no more."""
    tried: list[int] = []
    real = repair.read_loosely
    monkeypatch.setattr(repair, "read_loosely", lambda *args: (tried.append(len(args[2])), real(*args))[1])
    points = "".join(f"  azimuth: {at % 360}, elevation: 2,5\n" for at in range(5000))
    shapes_of(f"{HEAD}horizon:\n{points}")
    shapes_of(f"{PARTNER}" + "".join(f"mount: maximum_elevation_deg: {at}, wind: 3,5 x\n" for at in range(50)))
    assert len(tried) <= repair.MOST_BLOCKS
    assert all(lines <= repair.MOST_LINES for lines in tried)


def test_the_zone_of_a_place_is_its_countrys() -> None:
    """Places of Natural Earth's populated places (public domain), from memory, each in the country of its zone."""
    places = {
        (51.27, 6.8): "Europe/Berlin", (50.95, 6.85): "Europe/Berlin", (48.77, 9.79): "Europe/Berlin",
        (47.5, 9.74): "Europe/Vienna", (46.2, 6.15): "Europe/Zurich", (48.58, 7.75): "Europe/Paris",
        (43.32, -1.98): "Europe/Madrid", (54.6, -5.93): "Europe/London", (42.3, -83.05): "America/Toronto",
        (32.5, -117.0): "America/Tijuana", (-34.47, -57.84): "America/Montevideo", (49.98, 36.25): "Europe/Kyiv",
    }  # fmt: skip
    assert {place: zone_of(*place) for place in places} == places


@pytest.mark.parametrize(("zone", "words"), ZONES)
def test_a_bare_offset_is_no_zone_where_the_place_is_known(tmp_path: Path, zone: str, words: str) -> None:
    place = "position: {latitude_deg: -41.32, longitude_deg: 173.16}"
    ((_, told),) = answers(tmp_path, f"call: QF4LUM\n{place}\ntime_zone: {zone}\n{BAND}")
    assert told.endswith(words), told
