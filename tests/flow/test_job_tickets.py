"""A job ticket beside the sheet: tighter limits for this job, from the drop folder to the audit."""

import hashlib
import json

import pytest

TIGHT = "job: 1041\nsolid_density: {min: 2.95}   # the proof came back thin\n"
THICK = (
    "clear,,0.00,,,left",
    "solid,,2.99,,,left",
    "solid,,2.99,,,centre",
    "solid,,2.99,,,right",
    "tint,50,,50.8,,centre",
)


def test_ticket_that_tightens_holds_this_job_and_no_other(room, sheet):
    room.drop("1041.csv", sheet())
    room.drop("1041.yaml", TIGHT)
    room.drop("1042.csv", sheet(job="1042", operator="another"))
    room.sweep()
    assert room.decision("1042") == "approved"
    assert room.holds("1041") == ["solid_density.min"]
    verdict = room.verdict("1041")
    (limit,) = [found for found in verdict["findings"] if found["rule"] == "solid_density.min"]
    assert (limit["limit"], limit["origin"]) == (2.95, "1041.yaml:2")
    assert "solid_density.min: 2.95 density  # 1041.yaml:2 (ticket)" in verdict["rules_text"]
    digest = hashlib.sha256(TIGHT.encode()).hexdigest()
    assert verdict["job_tickets"] == [
        {"name": "1041.yaml", "sha256": digest, "dropped_as": "1041.yaml", "current": True}
    ]
    assert (room.folder("1041") / "1041.yaml").read_text() == TIGHT
    for words in ((room.folder("1041") / "report.txt").read_text(), why(room, "1041")):
        assert "solid_density.min, 1041.yaml:2 (ticket)" in " ".join(words.split())
        assert "1041.yaml" in words


def why(room, job):
    return room.call("why", job, "--site", str(room.root)).stdout


def test_ticket_that_is_met_approves_and_says_what_it_asked(room, sheet):
    room.drop("1041.csv", sheet(THICK))
    room.drop("1041.yaml", TIGHT)
    room.sweep()
    assert room.decision("1041") == "approved"
    (said,) = [f for f in room.verdict("1041")["findings"] if f["rule"] == "job.ticket"]
    assert said["outcome"] == "pass"
    assert said["says"] == "the job ticket 1041.yaml sets 1 limit: solid_density.min"


@pytest.mark.parametrize(
    ("text", "place", "do"),
    [
        ("solid_density:\n  min: 2.5\n", "1041.yaml:2:8", "write 2.85 density or something"),
        ("solid_density: {mni: 3}\n", "1041.yaml:1:17", "write min"),
        ("{job: 1041, solid_density: {min: 2.5}}\n", "1041.yaml:1:34", "write 2.85 density"),
        ("job,1041\ncustomer,x\n", "1041.yaml:1:1", "write `key: value` lines"),
    ],
)
def test_ticket_that_loosens_or_is_broken_holds_its_own_job_and_makes_nobody_wait(
    room, sheet, text, place, do
):
    room.drop("1041.csv", sheet())
    room.drop("1041.yaml", text)
    room.drop("1042.csv", sheet(job="1042", operator="another"))
    room.sweep()
    assert room.decision("1042") == "approved"
    assert room.holds("1041") == ["job.ticket"]
    (finding,) = [f for f in room.verdict("1041")["findings"] if f["outcome"] == "hold"]
    assert finding["says"].startswith(f"job ticket {place}: ")
    assert do in finding["do"][0]
    assert "together with the sheet again" in finding["do"][1]


def test_ticket_counts_for_a_later_sheet_that_comes_without_it(room, sheet):
    room.drop("1041.csv", sheet())
    room.drop("1041.yaml", TIGHT)
    room.sweep()
    room.drop("1041.csv", sheet(operator="second"))
    room.sweep()
    assert room.holds("1041") == ["solid_density.min"]


def test_corrected_ticket_takes_the_place_of_the_one_of_its_name(room, sheet):
    room.drop("1041.csv", sheet())
    room.drop("1041.yaml", "solid_density: {mni: 3}")
    room.sweep()
    room.drop("1041.csv", sheet(operator="second"))
    room.drop("1041.yaml", "job: 1041\n")
    room.sweep()
    assert room.decision("1041") == "approved"
    kept = [(t["name"], t["current"]) for t in room.verdict("1041")["job_tickets"]]
    assert kept == [("1041.yaml", False), ("1041.2.yaml", True)]
    assert "1041.yaml, replaced by a newer one" in (room.folder("1041") / "report.txt").read_text()


def test_ticket_that_comes_when_its_job_is_approved_waits_loudly_for_the_sheet(room, sheet):
    room.drop("1041.csv", sheet())
    room.sweep()
    before = (room.folder("1041") / "verdict.json").read_bytes()
    room.drop("1041.yaml", TIGHT)
    room.drop("1041.pdf", "artwork")
    said = room.sweep(expect=1)
    folder = room.folder("1041")
    assert (room.root / "drop/liquid-plate/1041.yaml").read_text() == TIGHT
    assert (folder / "1041.pdf").is_file(), "other companions join"
    assert (folder / "verdict.json").read_bytes() == before
    assert "was approved without 1041.yaml: drop the sheet again" in " ".join(
        (said.stdout + said.stderr).split()
    )
    room.drop("1041.csv", sheet(operator="second"))
    room.sweep()
    assert room.holds("1041") == ["solid_density.min"]


def test_ticket_that_joins_a_held_job_changes_no_verdict_until_the_sheet_is_dropped_again(
    room, sheet
):
    room.drop("1041.csv", sheet(customer="Nobody & Sons"))
    room.sweep()
    before = (room.folder("1041") / "verdict.json").read_bytes()
    room.drop("1041.yaml", TIGHT)
    room.sweep()
    folder = room.folder("1041")
    assert (folder / "1041.yaml").is_file()
    assert (folder / "verdict.json").read_bytes() == before
    assert "job ticket 1041.yaml came after the verdict" in why(room, "1041")
    room.drop("1041.csv", sheet(operator="second"))
    room.sweep()
    assert room.holds("1041") == ["solid_density.min"]
    assert "came after" not in why(room, "1041")


def test_corrected_ticket_that_comes_late_counts_with_the_next_sheet(room, sheet):
    room.drop("1041.csv", sheet())
    room.drop("1041.yaml", "solid_density: {mni: 3}")
    room.sweep()
    room.drop("1041.yaml", "job: 1041")
    room.sweep()
    assert room.holds("1041") == ["job.ticket"]
    room.drop("1041.csv", sheet(operator="second"))
    room.sweep()
    assert room.decision("1041") == "approved"


@pytest.mark.parametrize("how", ["changed", "removed"])
def test_ticket_that_a_hand_altered_holds_the_job_until_it_is_dropped_again(room, sheet, how):
    room.drop("1041.csv", sheet(THICK))
    room.drop("1041.yaml", TIGHT)
    room.sweep()
    path = room.folder("1041") / "1041.yaml"
    path.write_text("job: 1041\n") if how == "changed" else path.unlink()
    for operator in ("second", "third"):
        room.drop("1041.csv", sheet(THICK, operator=operator))
        room.sweep()
        assert room.holds("1041") == ["job.ticket"]
        says = [f["says"] for f in room.verdict("1041")["findings"] if f["outcome"] == "hold"]
        assert how in says[0]
    room.drop("1041.csv", sheet(THICK, operator="fourth"))
    room.drop("1041.yaml", TIGHT)
    room.sweep()
    assert room.decision("1041") == "approved"


def test_tickets_of_two_separations_add_up_over_the_whole_job(room, sheet):
    for name, least in (("black", 2.87), ("red", 2.95)):
        room.drop(f"1041-{name}.csv", sheet(separation=name, separations="2"))
        room.drop(f"1041-{name}.yaml", f"solid_density: {{min: {least}}}")
    room.sweep()
    limits = {
        f["separation"]: f["limit"]
        for f in room.verdict("1041")["findings"]
        if f["rule"] == "solid_density.min"
    }
    assert limits == {"black": 2.95, "red": 2.95}


def test_numbered_sheet_has_a_ticket_of_its_own(room, sheet):
    room.drop("1041.csv", sheet(separation="black", separations="2"))
    room.drop("1041.yaml", "tints: [{nominal: 50, tolerance: 1.2}]")
    room.drop("1041.2.csv", sheet(separation="red", separations="2"))
    room.drop("1041.2.yaml", "tints: [{nominal: 50, tolerance: 1.4}]")
    room.sweep()
    verdict = room.verdict("1041")
    assert [t["current"] for t in verdict["job_tickets"]] == [True, True]
    asked = {f["limit"] for f in verdict["findings"] if f["rule"] == "tints.50.tolerance"}
    assert asked == {1.2}


def test_ticket_in_a_dropped_folder_counts_whatever_its_stem(room, sheet):
    folder = room.root / "drop" / "liquid-plate" / "1041"
    folder.mkdir()
    (folder / "readings.csv").write_text(sheet())
    (folder / "the job's.yml").write_text(TIGHT)
    room.sweep()
    assert room.holds("1041") == ["solid_density.min"]


def test_check_honours_a_ticket_beside_the_file(room, sheet, tmp_path):
    path = tmp_path / "1041.csv"
    path.write_text(sheet())
    site = ("--site", str(room.root))
    room.call("check", str(path), *site)
    (tmp_path / "1041.yaml").write_text(TIGHT)
    (tmp_path / "10410.yaml").write_text("not: for this one")
    for words in ((str(path),), (str(path), str(tmp_path / "1041.yaml"))):
        said = room.call("check", *words, "--json", *site, expect=1)
        verdict = json.loads(said.stdout)
        assert [f["rule"] for f in verdict["findings"] if f["outcome"] == "hold"] == [
            "solid_density.min"
        ]
        assert verdict["job_tickets"][0]["name"] == "1041.yaml"


def test_recall_keeps_the_record_of_the_ticket_and_an_unread_sheet_does_too(room, sheet):
    room.drop("1041.csv", sheet(THICK))
    room.drop("1041.yaml", TIGHT)
    room.sweep()
    room.drop("1041.csv", "this is no sheet of readings\n")
    room.sweep()
    verdict = room.verdict("1041")
    assert verdict["decision"] == "held"
    assert [t["name"] for t in verdict["job_tickets"]] == ["1041.yaml"]


def test_rules_of_a_day_are_not_those_of_a_job_with_a_ticket(room, sheet):
    room.drop("1041.csv", sheet())
    room.sweep()
    room.drop("1042.csv", sheet(job="1042", operator="another"))
    room.drop("1042.yaml", "tints: [{nominal: 50, tolerance: 1.1}]")
    room.sweep()
    one, other = (room.verdict(job)["rules_fingerprint"] for job in ("1041", "1042"))
    assert one != other
