"""`gatekeeper rules check`: every file at once, and exit codes that a commit hook can use."""

import json
import os

import pytest


def edit(room, name, old, new):
    path = room.root / name
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new, 1))


def check(room, expect, *words):
    return room.call("--site", str(room.root), "rules", "check", *words, expect=expect)


def test_a_new_site_is_in_order(room):
    assert check(room, 0).stdout == "all files are good: 5 workflows, 5 customers\n"
    said = check(room, 0, "--json")
    told = json.loads(said.stdout)
    assert (told["problems"], told["waiting"]) == ([], [])
    assert [entry["name"] for entry in told["warnings"]].count("tight-for-the-meter") > 0
    assert told["warnings"][0].keys() >= {"file", "line", "column", "what", "do"}
    assert said.stderr == "", "a program reads them where it reads everything else"


def test_limits_too_tight_for_the_meters_are_warned_of_and_are_no_problem(room):
    warned = check(room, 0).stderr
    assert "warning  tight-for-the-meter: tints.50.tolerance 2 percent is too tight" in warned
    assert "workflows/liquid-plate.yaml" in warned
    edit(room, "workflows/stencil.yaml", "min: 3.00", "min: 3,00")
    assert check(room, 1).stderr == ""


def test_problems_of_all_kinds_of_files_are_told_at_once_and_who_waits(room):
    edit(room, "workflows/stencil.yaml", "min: 3.00", "min: 3,00")
    edit(room, "customers/quillmark.yaml", "min: 2.85", "min: 2.40")
    edit(room, "customers/ottershaw.yaml", "stencil:", "stensil:")
    said = check(room, 1).stdout
    assert said.count("  where  ") == 3
    assert "looser-than-floor" in said
    assert said.endswith(
        "3 problems; until mended these wait in the drop folder:\n"
        "  every job of the customer in customers/ottershaw.yaml\n"
        "  every job of the workflow in workflows/stencil.yaml\n"
        "  jobs for liquid-plate that name Quillmark Cartons\n"
    )


def test_change_to_come_that_passes_a_floor_says_that_jobs_wait_from_that_day_on(room):
    loose = "changes: [{effective_from: 2999-01-15, solid_density: {min: 2.10}}]"
    edit(room, "customers/ottershaw.yaml", "    solid_density:", f"    {loose}\n    solid_density:")
    jobs = "jobs for stencil that name Ottershaw Textiles"
    assert check(room, 1).stdout.endswith(
        "1 problem; no job waits today: until mended these will wait in the drop folder:\n"
        f"  from 2999-01-15 on {jobs}\n"
    )
    told = json.loads(check(room, 1, "--json").stdout)
    assert told["waiting"] == []
    assert told["waiting_later"] == [f"from 2999-01-15 on {jobs}"]
    assert [entry["begins"] for entry in told["problems"]] == ["2999-01-15"]
    doctor = room.call("doctor", "--json", "--site", str(room.root), expect=1).stdout
    (rules,) = (entry for entry in json.loads(doctor) if entry["subject"] == "rules")
    assert rules["state"] == "look"
    assert "until then its jobs are judged" in rules["do"]


def test_workflow_that_passes_a_floor_stops_all_its_jobs(room):
    edit(room, "workflows/liquid-plate.yaml", "min: 2.70", "min: 2.40")
    lines = check(room, 1).stdout.splitlines()
    assert lines[-1] == "  every job for liquid-plate"


def test_broken_register_stops_every_job(room):
    edit(room, "register/meters.yaml", "calibrated: 2026-09-01", "calibrated: 01/09/2026")
    lines = check(room, 1).stdout.splitlines()
    assert lines[0] == 'not-a-date: "01/09/2026" is not a date'
    assert lines[-1] == "  every job"


def test_broken_site_file_does_not_hide_what_else_is_broken(room):
    edit(room, "site.yaml", "time_zone: Europe/London", "time_zone: Europe/Lundon")
    edit(room, "workflows/stencil.yaml", "min: 3.00", "min: 3,00")
    told = json.loads(check(room, 1, "--json").stdout)
    problems = told["problems"]
    assert (told["warnings"], told["waiting"]) == ([], ["every job"])
    assert [(entry["file"], entry["name"]) for entry in problems] == [
        ("site.yaml", "unknown-zone"),
        ("workflows/stencil.yaml", "not-a-number"),
    ]
    assert problems[0]["do"] == "write Europe/London"
    assert problems[1]["text"].strip().startswith("min: 3,00")
    assert (problems[1]["line"], problems[1]["column"]) == (12, 8)
    assert check(room, 1).stdout.splitlines()[-1] == "  every job"


def test_folder_that_is_no_site_could_not_be_checked(room, tmp_path):
    said = room.call("rules", "check", "--site", str(tmp_path / "nowhere"), expect=2)
    assert "gatekeeper init" in said.stderr


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
def test_file_that_the_gate_may_not_read_is_told(room):
    (room.root / "customers/quillmark.yaml").chmod(0)
    assert "cannot be read: Permission denied" in check(room, 1).stdout


def test_ten_kinds_of_mistakes_each_point_to_their_line(room):
    mistakes = {
        "key misspelt": ("solid_density: {min: 2.7, sprad: 1}", "unknown-key"),
        "decimal comma": ("solid_density: {min: 2,7}", "decimal-comma"),
        "unit": ("film: {max_age_days: 8 weeks}", "not-a-number"),
        "no nominal": ("tints: [{tolerance: 2}]", "no-nominal"),
        "stock": ("film: {stocks: [matte-6mil]}", "unknown-stock"),
        "resolution": ("screen: {resolution_dpi: [1400]}", "unknown-resolution"),
        "min above max": ("screen: {ruling_lpi: {min: 90, max: 45}}", "limits-cross"),
        "floor": ("tints: [{nominal: 50, tolerance: 4}]", "looser-than-floor"),
        "tab": ("film:\n\tmax_age_days: 3", "tab"),
        "field": ("required: [metre]", "unknown-field"),
        "key twice": ("meter: {filters: [UV]}\nmeter: {filters: [blue]}", "key-twice"),
        "anchor": ("film: &f {max_age_days: 3}", "anchor"),
    }
    for number, (line, _) in enumerate(mistakes.values()):
        text = f"workflow: w{number}\nreading: negative\n{line}\n"
        (room.root / f"workflows/w{number}.yaml").write_text(text)
    found = json.loads(check(room, 1, "--json").stdout)["problems"]
    told = {(entry["file"], entry["name"], entry["line"]) for entry in found}
    for number, (line, name) in enumerate(mistakes.values()):
        at = 2 + len(line.splitlines())
        assert (f"workflows/w{number}.yaml", name, at) in told
