"""The blank sheet that a workflow asks for, and what the program says of a file it read."""

import subprocess
import sys

FILL = {
    "job": "1041",
    "customer": "Pennyroyal Preserves",
    "separation": "black",
    "printed": "2026-11-20 09:40",
    "measured": "2026-11-20 10:05",
    "zeroed on": "clear",
    "film lot": "M5-0317",
    "meter": "T-04",
    "operator": "JV",
    "printer": "P1",
    "ruling": "65 lpi",
    "resolution": "1440 dpi",
}
READ = {"clear": "0.00", "solid": "2.91", "tint": "0.30"}


def filled_in(blank: str) -> str:
    lines = []
    for line in blank.splitlines():
        cells = line.split(",")
        if cells[0] in FILL and not cells[1]:
            cells[1] = FILL[cells[0]]
        elif cells[0] in READ:
            cells[2] = READ[cells[0]]
        lines.append(",".join(cells))
    return "\n".join(lines) + "\n"


def test_a_blank_sheet_that_is_filled_in_is_judged_and_approved(room):
    blank = room.call("blank", "--workflow", "liquid-plate", "--site", str(room.root)).stdout
    room.drop("1041.csv", filled_in(blank))
    room.sweep()
    assert room.decision("1041") == "approved"


def test_a_blank_sheet_left_empty_is_held_with_every_field_that_is_missing(room):
    call = ("blank", "--workflow", "liquid-plate", "--job", "1041", "--site", str(room.root))
    room.drop("1041.csv", room.call(*call).stdout)
    room.sweep()
    assert room.decision("1041") == "held"
    assert {"required.meter", "solid_density.min", "tints.50.tolerance"} <= set(room.holds("1041"))


def test_a_blank_sheet_is_not_written_where_the_gate_would_take_it(room, tmp_path):
    shortcut = tmp_path / "shortcut"
    shortcut.symlink_to(room.root / "drop")
    for target in (room.root / "drop/liquid-plate/1041.csv", shortcut / "liquid-plate/1041.csv"):
        call = ("blank", "--workflow", "liquid-plate", "--output", str(target))
        said = room.call(*call, "--site", str(room.root), expect=2).stderr
        assert "lies in a drop folder" in said
        assert "when it is complete" in said
        assert not target.exists()


def test_a_blank_workbook_is_written_once_and_never_over_another(room, tmp_path):
    target = tmp_path / "blank.xlsx"
    call = ("blank", "--workflow", "stencil", "--xlsx", "--output", str(target))
    room.call(*call, "--site", str(room.root))
    assert target.read_bytes().startswith(b"PK")
    before = target.read_bytes()
    assert "there already" in room.call(*call, "--site", str(room.root), expect=2).stderr
    assert target.read_bytes() == before


def test_an_unknown_workflow_names_the_nearest(room):
    call = ("blank", "--workflow", "liquid-plat", "--site", str(room.root))
    assert "liquid-plate" in room.call(*call, expect=2).stderr


def test_explain_names_the_line_and_column_of_every_value(room, sheet):
    path = room.drop("1041.csv", sheet())
    told = room.call("check", "--explain", str(path), "--site", str(room.root)).stderr
    assert "typed sheet" in told
    lines = told.splitlines()
    solid = next(line for line in lines if line.strip().startswith("solid centre: density"))
    assert solid.endswith("line 19, column 3")


def test_help_answers_without_loading_a_database_or_a_spreadsheet_library():
    code = (
        "import sys; sys.argv = ['gatekeeper', '--help']\n"
        "from gatekeeper.cli import main\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        "heavy = {'alembic', 'apscheduler', 'greenlet', 'jinja2', 'psycopg', 'pydantic', 'rich',"
        " 'sqlalchemy', 'watchdog', 'yaml'}\n"
        "print(sorted(heavy & set(sys.modules)), file=sys.stderr)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stderr.strip() == "[]"
    assert "sweep" in done.stdout
