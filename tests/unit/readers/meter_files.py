"""Profiles and the files of invented meters, and a sheet as other programs may send it."""

from gatekeeper.readers.interface import Declarations
from gatekeeper.readers.profile import load_profile


def site(*texts, **settings):
    profiles = tuple(load_profile(text.encode(), "readers/p.yaml") for text in texts)
    return Declarations(profiles=profiles, **settings)


GOOD = """profile: bench-meter
title: Bench meter, table export
recognise:
  columns: [Feld, D]
separator: semicolon
code_page: windows-1252
decimal_mark: comma
date_formats: ["%d.%m.%Y %H:%M"]
columns:
  patch: Feld
  density: D
  job: Auftrag
constants: {meter: T-04, zeroed on: clear}
patches:
  words: {clear: [Film], solid: [Vollton, V], tint: [Raster]}
  patterns: {tint: '^R(?P<nominal>[0-9]+)$'}
over_range: {words: [OL, "----"], at_least: 4.5}
under_range: {words: [UL], at_most: 0.01}
"""

TABLE = """Bericht vom 20.11.2026
Nr;Auftrag;Feld;D;Ort
1;1041;Film;0,00;links
2;1041;Vollton;2,91;links
3;1041;V;OL;rechts
4;1041;R50;0,312;Mitte
5;1041;Film;UL;rechts
"""

DUMP = """profile: dump
format: text
recognise: {first_line: '^METER LOG'}
decimal_mark: point
lines:
  - '^Job (?P<job>\\S+)'
  - '^Sep (?P<separation>\\w+)'
  - '^At (?P<measured>.+)$'
  - '^(?P<patch>\\w+) (?P<nominal>[0-9]+)?\\s*D=(?P<density>[-0-9.]+|OL)'
constants: {meter: T-04}
over_range: {words: [OL], at_least: 4.5}
"""
LOG = """METER LOG 3
Job 1041
Sep black
At 2026-11-20 10:05
clear D=0.02 ok
solid D=OL
tint 50 D=0.31
battery low
Sep cyan
solid D=2.85
"""

CGATS = """CGATS.17
LOT_ID "1041"
FILTER "visual"
BEGIN_DATA_FORMAT
SAMPLE_ID CMYK_K XYZ_Y
END_DATA_FORMAT
BEGIN_DATA
A1 0 99.5
A2 100 0.12
A3 50 51.0
END_DATA
"""
CGATS_PROFILE = """profile: spectro
format: cgats
recognise: {columns: [CMYK_K, XYZ_Y]}
columns: {name: SAMPLE_ID, nominal: CMYK_K, transmittance: XYZ_Y, job: LOT_ID}
patches: {by_nominal: yes}
"""

JSON_SHEET = {
    "job": 1041,
    "customer": "Quillmark Cartons",
    "workflow": "liquid-plate",
    "separation": "black",
    "film lot": "M5-0317",
    "meter": "T-04",
    "measured": "2026-11-20 10:05",
    "zeroed on": "clear",
    "ruling": "65 lpi",
    "patches": [
        {"patch": "clear", "density": 0.0, "where": "left"},
        {"patch": "solid", "density": 2.91, "where": "left"},
        {"patch": "solid", "density": "2.88", "where": "centre"},
        {"patch": "tint", "nominal": 50, "dot": 50.8, "where": "centre", "density": None},
        {"patch": "length", "nominal": 600.0, "length": 598.93, "where": "around"},
    ],
}
