"""The same readings in every format that a plate room may drop: one verdict, the same numbers."""

import io
import json
import zipfile
from xml.sax.saxutils import escape

import pytest

DUMP_PROFILE = """profile: bench-log
title: Log of a bench meter, one line a reading
format: text
recognise: {first_line: '^BENCH LOG'}
decimal_mark: point
lines:
  - '^Job (?P<job>\\S+) for (?P<customer>.+)$'
  - '^Sep (?P<separation>\\w+) on (?P<printer>\\w+), film (?P<film_lot>\\S+)$'
  - '^By (?P<operator>\\w+)$'
  - '^Printed (?P<printed>.+), measured (?P<measured>.+)$'
  - '^Screen (?P<ruling>\\S+ lpi) at (?P<resolution>\\S+ dpi)$'
  - '^(?P<patch>clear|solid) (?P<where>\\w+) D=(?P<density>[0-9.]+)$'
  - '^(?P<patch>tint) (?P<nominal>[0-9]+) (?P<where>\\w+) D=(?P<density>[0-9.]+)$'
constants: {meter: T-04, zeroed on: clear, workflow: liquid-plate}
"""
ROWS = (
    ("clear", "", "0.00", "left"),
    ("solid", "", "2.91", "left"),
    ("solid", "", "2.88", "centre"),
    ("solid", "", "2.90", "right"),
    ("tint", "50", "0.30", "centre"),
)
TYPED = tuple(f"{kind},{nominal},{density},,,{where}" for kind, nominal, density, where in ROWS)


def cells(text: str) -> list[list[str]]:
    return [line.split(",") for line in text.splitlines()]


def as_xlsx(text: str) -> bytes:
    xlsxwriter = pytest.importorskip("xlsxwriter")
    target = io.BytesIO()
    with xlsxwriter.Workbook(target, {"in_memory": True}) as book:
        page = book.add_worksheet("readings")
        for row, line in enumerate(cells(text)):
            for column, cell in enumerate(line):
                page.write_string(row, column, cell)
    return target.getvalue()


def as_ods(text: str) -> bytes:
    """Return the smallest OpenDocument spreadsheet (ISO/IEC 26300) that holds these cells."""
    rows = "".join(
        "<table:table-row>"
        + "".join(
            '<table:table-cell office:value-type="string">'
            f"<text:p>{escape(cell)}</text:p></table:table-cell>"
            if cell
            else "<table:table-cell/>"
            for cell in line
        )
        + "</table:table-row>"
        for line in cells(text)
    )
    names = "".join(
        f' xmlns:{short}="urn:oasis:names:tc:opendocument:xmlns:{short}:1.0"'
        for short in ("office", "table", "text")
    )
    content = (
        '<?xml version="1.0" encoding="UTF-8"?>'
        f'<office:document-content{names} office:version="1.2">'
        f'<office:body><office:spreadsheet><table:table table:name="readings">{rows}'
        "</table:table></office:spreadsheet></office:body></office:document-content>"
    )
    kind = "application/vnd.oasis.opendocument.spreadsheet"
    manifest = (
        '<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0">'
        f'<manifest:file-entry manifest:full-path="/" manifest:media-type="{kind}"/>'
        '<manifest:file-entry manifest:full-path="content.xml" manifest:media-type="text/xml"/>'
        "</manifest:manifest>"
    )
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w") as archive:
        archive.writestr("mimetype", kind)
        archive.writestr("content.xml", content)
        archive.writestr("META-INF/manifest.xml", manifest)
    return target.getvalue()


def as_json(text: str) -> bytes:
    head = dict(line.split(",", 1) for line in text.split("\n\n", 1)[0].splitlines())
    patches = [
        {"patch": kind, "nominal": nominal or None, "density": density, "where": where}
        for kind, nominal, density, where in ROWS
    ]
    return json.dumps({**head, "patches": patches}).encode()


def as_cgats(text: str) -> bytes:
    """ISO 28178 / CGATS.17 text: head fields as declared private keywords, density as D_VIS."""
    head = dict(line.split(",", 1) for line in text.split("\n\n", 1)[0].splitlines())
    lines = ["CGATS.17"]
    for name, value in head.items():
        keyword = name.upper().replace(" ", "_")
        lines += [f'KEYWORD "{keyword}"', f'{keyword} "{value}"']
    fields = ["SAMPLE_NAME", "CMYK_K", "D_VIS", "WHERE"]
    lines += ['KEYWORD "SAMPLE_NAME"', 'KEYWORD "WHERE"', f"NUMBER_OF_FIELDS {len(fields)}"]
    lines += ["BEGIN_DATA_FORMAT", "\t".join(fields), "END_DATA_FORMAT"]
    lines += [f"NUMBER_OF_SETS {len(ROWS)}", "BEGIN_DATA"]
    nominal = {"clear": "0", "solid": "100"}
    lines += [
        "\t".join((kind, nominal.get(kind, percent), density, where))
        for kind, percent, density, where in ROWS
    ]
    return "\r\n".join([*lines, "END_DATA", ""]).encode()


def as_dump(text: str) -> bytes:
    head = dict(line.split(",", 1) for line in text.split("\n\n", 1)[0].splitlines())
    lines = [
        "BENCH LOG 4",
        f"Job {head['job']} for {head['customer']}",
        f"Sep {head['separation']} on {head['printer']}, film {head['film lot']}",
        f"By {head['operator']}",
        f"Printed {head['printed']}, measured {head['measured']}",
        f"Screen {head['ruling']} at {head['resolution']}",
        "battery low",
    ]
    for kind, nominal, density, where in ROWS:
        lines.append(" ".join(filter(None, (kind, nominal, where, f"D={density}"))))
    return "\n".join([*lines, ""]).encode()


FORMATS = {
    "typed.csv": str.encode,
    "semicolons.csv": lambda text: text.replace(",", ";").replace(".", ",").encode("utf-8-sig"),
    "tabs.tsv": lambda text: text.replace(",", "\t").encode("utf-16"),
    "book.xlsx": as_xlsx,
    "book.ods": as_ods,
    "sheet.json": as_json,
    "meter.it8": as_cgats,
    "log.txt": as_dump,
}


@pytest.mark.parametrize("solid", ["2.88", "2.60"])
def test_every_format_gives_the_same_verdict_and_the_same_numbers(room, sheet, tmp_path, solid):
    (room.root / "readers/bench-log.yaml").write_text(DUMP_PROFILE)
    text = sheet(TYPED, customer="Pennyroyal Preserves", cleaned=None)
    answers = {}
    for name, write in FORMATS.items():
        path = tmp_path / name
        path.write_bytes(
            write(text).replace(b"2.88", solid.encode())
            if name.endswith(("json", "it8", "txt"))
            else write(text.replace("2.88", solid))
        )
        done = room.call("check", str(path), "--json", "--site", str(room.root), expect=None)
        document = json.loads(done.stdout)
        answers[name] = (
            document["decision"],
            [(f["rule"], f["outcome"], f["measured"], f["limit"]) for f in document["findings"]],
        )
    expected = answers["typed.csv"]
    assert expected[0] == ("approved" if solid == "2.88" else "held")
    for name, answer in answers.items():
        assert answer == expected, name


def test_a_folder_of_hostile_files_is_held_or_left_alone_and_nothing_is_approved(room, sheet):
    drop = room.root / "drop/liquid-plate"
    good = sheet()
    hostile = {
        "binary.csv": bytes(range(256)) * 20,
        "empty.tsv": b"\n\n\n",
        "nul.csv": good.replace("2.88", "2.\x0088").encode(),
        "escape.csv": good.replace("JV", "\x1b[31mJV\x07").replace("2.88", "x").encode(),
        "formula.csv": good.replace("2.88", "=2.88+0").encode(),
        "long-line.csv": (good + "x" * 100_000).encode(),
        "many-columns.csv": (good + "," * 5_000).encode(),
        "zip-bomb.xlsx": bomb(),
        "entity.ods": entity(),
        "half.xlsx": as_xlsx(good)[:2_000],
        "deep.json": b"[" * 50_000,
        "wide-digits.csv": good.replace("2.88", "\uff12.88").encode(),
        "nan.csv": good.replace("2.88", "nan").encode(),
        "huge.csv": good.replace("2.88", "1e999").encode(),
        "cut.csv": good[:300].encode(),
    }
    for name, content in hostile.items():
        (drop / name).write_bytes(content)
    room.sweep(expect=None)
    assert not list((room.root / "approved").glob("[!.]*/*"))
    kept = [path.name for path in (room.root / "held").rglob("*") if path.is_file()]
    for name in hostile:
        stem = name.rsplit(".", 1)[0]
        assert any(entry.startswith(stem) for entry in kept) or (drop / name).exists(), name
    for report in (room.root / "held").rglob("report.txt"):
        assert "\x1b" not in report.read_text()


def bomb() -> bytes:
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", "<Types/>")
        archive.writestr("xl/worksheets/sheet1.xml", b" " * 200_000_000)
    return target.getvalue()


def entity() -> bytes:
    target = io.BytesIO()
    laughs = "".join(f'<!ENTITY a{n + 1} "{f"&a{n};" * 10}">' for n in range(9))
    with zipfile.ZipFile(target, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("content.xml", f'<!DOCTYPE x [<!ENTITY a0 "ha">{laughs}]><x>&a9;</x>')
    return target.getvalue()
