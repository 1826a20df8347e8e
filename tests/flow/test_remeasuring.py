"""One negative measured until it passes: counted in its folder, told, and held for a lead."""

import json
import os
import pwd
import shutil

import pytest

from gatekeeper.site import read_site
from gatekeeper.trying.rehearsing import rehearse_folder
from gatekeeper.verdict import Decision

ME = pwd.getpwuid(os.getuid()).pw_name
RULE = "remeasuring.sign_off_after"
WORKFLOW = "workflows/liquid-plate.yaml"


def rows(solid):
    solids = [f"solid,,{solid},,,{where}" for where in ("left", "centre", "right")]
    return ["clear,,0.00,,,left", *solids, "tint,50,,50.8,,centre"]


@pytest.fixture
def room(room):
    settings = room.root / "site.yaml"
    settings.write_text(settings.read_text() + f"leads: [{ME}]\n")
    rules = room.root / WORKFLOW
    rules.write_text(rules.read_text() + "\nremeasuring: {sign_off_after: 2}\n")
    return room


def measure(room, sheet, *solids):
    """Drop one sheet after the other, each measured by somebody else, and sweep after each."""
    for solid in solids:
        number = len(list(room.root.glob("*/liquid-plate/1041/[!vr]*.csv")))
        room.drop("1041.csv", sheet(rows(solid), operator=f"M{number}"))
        room.sweep()


def release(room):
    words = ("--by", "Ada Lead", "--reason", "all three were taken on clean film")
    room.call("release", "1041", *words, "--site", str(room.root))
    room.sweep()


def report(room):
    return " ".join((room.folder("1041") / "report.txt").read_text().split())


def measured(room):
    """Return how often the newest verdict says that the negative was measured."""
    (found,) = [entry for entry in room.verdict("1041")["findings"] if entry["rule"] == RULE]
    return found["measured"]


def test_third_reading_that_passes_is_held_until_a_lead_signs_it_off(room, sheet):
    measure(room, sheet, "2.60", "2.68", "2.91")
    assert (room.decision("1041"), room.holds("1041")) == ("held", [RULE])
    release(room)
    assert room.decision("1041") == "approved"
    assert RULE in room.verdict("1041")["concession"]
    assert "APPROVED UNDER CONCESSION" in report(room)


def test_report_says_how_often_it_was_measured_and_what_each_reading_gave(room, sheet):
    measure(room, sheet, "2.60", "2.68", "2.91")
    said = report(room)
    assert "measured 3 times" in said
    rest = "50 % tint 50.8 %; missed solid_density.min"
    for reading in (
        f"reading 1 1041.csv, 2026-11-20 10:05: solid 2.60, {rest}",
        f"reading 2 1041.2.csv, 2026-11-20 10:05: solid 2.68, {rest}",
        "reading 3 solid 2.91, 50 % tint 50.8 %; counts",
    ):
        assert reading in said


def test_reading_after_the_sign_off_needs_another_one(room, sheet):
    measure(room, sheet, "2.60", "2.68", "2.91")
    release(room)
    measure(room, sheet, "2.92")
    assert (room.decision("1041"), room.holds("1041")) == ("held", [RULE])
    assert measured(room) == 4, "the slip lies among the sheets and is no reading"


def test_second_reading_counts_by_itself(room, sheet):
    measure(room, sheet, "2.60", "2.91")
    assert room.decision("1041") == "approved"


def test_same_bytes_twice_are_one_reading_and_a_sheet_like_any_other(room, sheet):
    measure(room, sheet, "2.60")
    for _ in range(2):
        room.drop("1041.csv", sheet(rows("2.91")))
        room.sweep()
    assert (room.decision("1041"), measured(room)) == ("approved", 2)
    assert room.verdict("1041")["measurements"] == 3
    assert "the same bytes as an earlier sheet" in report(room)


def test_history_is_not_asked(room, sheet):
    measure(room, sheet, "2.60", "2.68")
    for path in (room.root / "state").glob("history*"):
        path.unlink()
    measure(room, sheet, "2.91")
    assert room.holds("1041") == [RULE]


def test_sheet_taken_out_of_the_folder_by_hand_still_counts(room, sheet):
    measure(room, sheet, "2.60", "2.68")
    (room.folder("1041") / "1041.csv").unlink()
    measure(room, sheet, "2.91")
    assert RULE in room.holds("1041")
    assert "reading 1 1041.csv: its readings are not known any more" in report(room)


def test_rules_that_are_tried_count_the_readings_of_the_past(room, sheet, tmp_path):
    measure(room, sheet, "2.60", "2.68", "2.91")
    site = read_site(room.root)

    def tried(text):
        edited = tmp_path / "edited"
        shutil.copytree(room.root / "workflows", edited / "workflows", dirs_exist_ok=True)
        file = edited / WORKFLOW
        file.write_text((room.root / WORKFLOW).read_text().replace("{sign_off_after: 2}", text))
        found = rehearse_folder(site, edited, None, "", "")
        return found.judged_by_checks, [change.job.job for change in found.to(Decision.APPROVED)]

    assert tried("{sign_off_after: 2}\ninspection: {cleaned: [yes]}") == (1, [])
    assert tried("{sign_off_after: 3}\ninspection: {cleaned: [yes]}") == (1, ["1041"])
    assert tried("{sign_off_after: 3}") == (0, ["1041"])


def test_no_concession_bars_the_sign_off(room, sheet):
    settings = room.root / "site.yaml"
    settings.write_text(settings.read_text() + f"no_concession: [{RULE}]\n")
    measure(room, sheet, "2.60", "2.68", "2.91")
    release(room)
    assert room.decision("1041") == "held"
    refused = room.root / "held" / "concessions"
    (verdict,) = [json.loads(path.read_bytes()) for path in refused.glob("*/verdict.json")]
    assert f"site.yaml allows no concession for {RULE}" in verdict["findings"][0]["says"]
