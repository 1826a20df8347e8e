"""Sheets that the example rules hold, in every format that is read.

A file is a list of lines, a line a list of cells. The characters that the verdict rests on are
marked, so that `accidents.py` can leave them alone: the digits of readings, and the particulars by
which a film is stale or unknown or a ruling too fine.
"""

from __future__ import annotations

import io
import json
import re
import zipfile
from dataclasses import dataclass

import xlsxwriter

OPEN, CLOSE = "\ue000", "\ue001"  # around what is kept; private-use signs that no sheet has
KEPT = re.compile(f"{OPEN}([^{CLOSE}]*){CLOSE}")


def kept(text):
    return f"{OPEN}{text}{CLOSE}"


def bare(text):
    return text.replace(OPEN, "").replace(CLOSE, "")


HEAD = {
    "job": "1041",
    "customer": "Pennyroyal Preserves",
    "workflow": "liquid-plate",
    "separation": "black",
    "printer": "P1",
    "film lot": kept("M5-0317"),
    "meter": "T-04",
    "operator": "JV",
    "printed": kept("2026-11-20 09:40"),
    "measured": kept("2026-11-20 10:05"),
    "zeroed on": "clear",
    "ruling": "65 lpi",
    "resolution": "1440 dpi",
}
# kind, nominal, density, dot, where
ROWS = (
    ("clear", "", kept("0.00"), "", "left"),
    ("solid", "", kept("2.91"), "", "left"),
    ("solid", "", kept("2.88"), "", "centre"),
    ("solid", "", kept("2.90"), "", "right"),
    ("tint", "50", "", kept("50.8"), "centre"),
)


@dataclass(frozen=True)
class Twin:
    """A sheet that is held, and the rule that holds it."""

    rule: str
    head: dict[str, str]
    rows: tuple[tuple[str, ...], ...] = ROWS
    needs_customer: bool = False  # held where the rules require the customer's name
    lines: int = 2  # accidents to whole lines and cells, at most; more would undo the cause


def _row(number, *cells):
    return (*ROWS[:number], cells, *ROWS[number + 1 :])


TWINS = {
    "sound": Twin("", HEAD),
    "weak solid": Twin("solid_density.min", HEAD, _row(2, "solid", "", kept("2.40"), "", "centre")),
    "weak fourth spot": Twin(
        "solid_density.min",
        HEAD,
        (*ROWS[:4], ("solid", "", kept("2.40"), "", "corner"), ROWS[4]),
        lines=0,  # without its line nothing tells of a spot more than the rules ask for
    ),
    "uneven solid": Twin(
        "solid_density.spread", HEAD, _row(3, "solid", "", kept("3.25"), "", "right")
    ),
    "dirty clear": Twin("clear_density.max", HEAD, _row(0, "clear", "", kept("0.14"), "", "left")),
    "full tint": Twin(
        "tints.50.tolerance", HEAD, _row(4, "tint", "50", "", kept("53.1"), "centre")
    ),
    "two spots": Twin(
        "solid_density.spots",
        HEAD,
        tuple((*row[:-1], kept(row[-1])) for row in (*ROWS[:2], *ROWS[3:])),
        lines=1,  # a row doubled and its place lost as well looks like a third spot
    ),
    "no operator": Twin(
        "required.operator", {name: text for name, text in HEAD.items() if name != "operator"}
    ),
    "customer's own limit": Twin(
        "solid_density.min",
        {**HEAD, "customer": kept("Quillmark Cartons")},
        _row(2, "solid", "", kept("2.80"), "", "centre"),
        needs_customer=True,
    ),
    "stale film": Twin("film.max_age_days", {**HEAD, "film lot": kept("M5-0211")}),
    "unknown film": Twin("film.known", {**HEAD, "film lot": kept("M5-0713")}),
    "ruling too fine": Twin("screen.ruling_lpi.max", {**HEAD, "ruling": kept("133 lpi")}),
}


# -- the formats --------------------------------------------------------------------------------


def typed_lines(twin):
    """Return the typed sheet as cells."""
    table = [["patch", "nominal", "density", "dot", "where"], *map(list, twin.rows)]
    return [*([name, text] for name, text in twin.head.items()), [], *table]


def cgats_lines(twin):
    """Return CGATS.17 text (ANSI CGATS.17-2009, ISO 28178) as cells parted by tabs."""
    lines = [["CGATS.17"], ["CREATED", '"2026-11-20T10:05:00"']]
    for name, text in twin.head.items():
        keyword = name.replace(" ", "_").upper()
        lines += [["KEYWORD", f'"{keyword}"'], [keyword, f'"{text}"']]
    lines += [["BEGIN_DATA_FORMAT"], ["SAMPLE_ID", "SAMPLE_NAME", "CMYK_K", "D_VIS"]]
    lines += [["END_DATA_FORMAT"], ["NUMBER_OF_SETS", str(len(twin.rows))], ["BEGIN_DATA"]]
    nominal = {"clear": "0", "solid": "100"}
    for number, (kind, tint, density, dot, where) in enumerate(twin.rows, start=1):
        name = f'"{kind} {where}"'
        # A dot of 50.8 or 53.1 on a solid of 2.90 is this density, by Murray and Davies.
        read = density or kept({"50.8": "0.308", "53.1": "0.275"}[bare(dot)])
        lines.append([str(number), name, nominal.get(kind, tint), read])
    return [*lines, ["END_DATA"]]


def meter_lines(twin):
    """Return the bench meter's table, for the reading profile of the example site."""
    names = {
        "ticket": "job", "client": "customer", "ink": "separation", "film": "film lot",
        "device": "printer", "user": "operator", "lines": "ruling", "dots": "resolution",
    }  # fmt: skip
    known = {column: twin.head[name] for column, name in names.items() if name in twin.head}
    known = {column: re.sub(" (lpi|dpi)", "", text) for column, text in known.items()}
    words = {"clear": "B", "solid": "F", "tint": "H50"}
    lines = [["no", "stamp", *known, "spot", "place", "od"]]
    for number, (kind, _, density, dot, where) in enumerate(twin.rows, start=1):
        read = density or kept({"50.8": "0.308", "53.1": "0.275"}[bare(dot)])
        stamp = kept("20.11.2026 10:05")
        cells = [str(number), stamp, *known.values(), words[kind], where, read.replace(".", ",")]
        lines.append(cells)
    return lines


def dump_lines(twin):
    """Return a meter's plain text, a line a reading, for the profile in `test_held_twins.py`."""
    lines = [["METER LOG"], *([f"{name}:", text] for name, text in twin.head.items())]
    for kind, nominal, density, dot, where in twin.rows:
        named = [kind, nominal] if nominal else [kind]
        lines.append([*named, f"D={density}" if density else f"A={dot}", where])
    return lines


def json_text(twin):
    """Return JSON, a line a value."""
    names = ("patch", "nominal", "density", "dot", "where")
    rows = [
        {name: cell for name, cell in zip(names, row, strict=True) if cell} for row in twin.rows
    ]
    return json.dumps({**twin.head, "patches": rows}, indent=0, ensure_ascii=False)


@dataclass(frozen=True)
class Draft:
    """A file before it is written: lines of cells, what parts the cells, its name, its encoding."""

    lines: list[list[str]]
    between: str
    name: str
    encoding: str = "utf-8"
    end: str = "\n"

    @property
    def text(self):
        return self.end.join(self.between.join(line) for line in self.lines) + self.end


def semicolons(twin):
    lines = [
        [KEPT.sub(lambda found: kept(found[1].replace(".", ",")), cell) for cell in line]
        for line in typed_lines(twin)
    ]
    return Draft(lines, ";", "1041.csv", "cp1252", "\r\n")


TEXTS = {
    "comma": lambda twin: Draft(typed_lines(twin), ",", "1041.csv"),
    "semicolon": semicolons,
    "tab utf-16": lambda twin: Draft(typed_lines(twin), "\t", "1041.csv", "utf-16"),
    "json": lambda twin: Draft([[x] for x in json_text(twin).split("\n")], "", "1041.json"),
    "cgats": lambda twin: Draft(cgats_lines(twin), "\t", "1041.txt"),
    "meter table": lambda twin: Draft(meter_lines(twin), ";", "1041.csv"),
    "meter dump": lambda twin: Draft(dump_lines(twin), " ", "1041.txt"),
}


# -- workbooks ----------------------------------------------------------------------------------


def _cell(text):
    return float(text) if re.fullmatch(r"-?[0-9]+(\.[0-9]+)?", text) else text


def xlsx(lines):
    """Return a workbook of these cells, as XlsxWriter writes it."""
    target = io.BytesIO()
    with xlsxwriter.Workbook(target, {"in_memory": True}) as book:
        grid = book.add_worksheet("sheet")
        for row, line in enumerate(lines):
            for column, cell in enumerate(map(bare, line)):
                grid.write(row, column, _cell(cell))
    return target.getvalue()


_ODS = (
    '<?xml version="1.0" encoding="UTF-8"?><office:document-content'
    ' xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0"'
    ' xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0"'
    ' xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0" office:version="1.3">'
    '<office:body><office:spreadsheet><table:table table:name="sheet">{}</table:table>'
    "</office:spreadsheet></office:body></office:document-content>"
)
_KIND = "application/vnd.oasis.opendocument.spreadsheet"


def ods(lines):
    """Return a workbook of these cells by OpenDocument 1.3, part 3, sections 9 and 19."""

    def cell(text):
        value = _cell(text)
        kind = f' office:value-type="float" office:value="{value}"'
        if isinstance(value, str):
            kind = ' office:value-type="string"' if text else ""
        return f"<table:table-cell{kind}><text:p>{text}</text:p></table:table-cell>"

    rows = [
        f"<table:table-row>{''.join(map(cell, map(bare, line)))}</table:table-row>"
        for line in lines
    ]
    manifest = (
        '<?xml version="1.0"?><manifest:manifest'
        ' xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0">'
        f'<manifest:file-entry manifest:full-path="/" manifest:media-type="{_KIND}"/>'
        "</manifest:manifest>"
    )
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as book:
        book.writestr("mimetype", _KIND, zipfile.ZIP_STORED)
        book.writestr("content.xml", _ODS.format("".join(rows)))
        book.writestr("META-INF/manifest.xml", manifest)
    return target.getvalue()


WORKBOOKS = {"xlsx": xlsx, "ods": ods}
