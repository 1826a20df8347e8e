"""`rules show --as-of` and `rules diff`: rules of other days and other folders."""

import json
import shutil
import time
from datetime import UTC, datetime, timedelta
from types import SimpleNamespace

import pytest

from gatekeeper.clock import SystemClock
from gatekeeper.filing.disk import Disk
from gatekeeper.history import FiledVerdict
from gatekeeper.record.ledger import Ledger
from gatekeeper.record.rules_taken_up import tell_rules
from gatekeeper.room import read_book
from gatekeeper.site import read_site
from gatekeeper.verdict import Decision, Verdict
from gatekeeper.workshop import history_of


def rules(room, *words, expect=0):
    return room.call("rules", *words, "--site", str(room.root), expect=expect)


def edit(path, old, new):
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new, 1))


def judged_long_ago(room, days, job, customer=""):
    """Record a job that was judged by the rules of now, and return their fingerprint."""
    site = read_site(room.root)
    found = read_book(site).library.effective("stencil", customer)
    moment = datetime.now(UTC) - timedelta(days=days)
    verdict = Verdict(
        ticket=f"{20261120 - days}-{job}",
        job=job,
        workflow="stencil",
        customer=found.customer,
        decision=Decision.APPROVED,
        rules_fingerprint=found.fingerprint,
        arrived=moment.isoformat(),
        program="gatekeeper",
        findings=(),
        sheets=(),
        rules_text=found.text,
    )
    with history_of(site, SystemClock()) as history:
        history.remember(FiledVerdict(site.mark, verdict, f"approved/stencil/{job}", moment))
    return found.fingerprint


def day(days):
    moment = datetime.now(UTC) - timedelta(days=days)
    return moment.date().isoformat()


@pytest.fixture
def past(room):
    """A room whose stencils asked for 3.00 a month ago, and for 3.30 since a week."""
    stencil = room.root / "workflows/stencil.yaml"
    room.old = judged_long_ago(room, 30, "1")
    judged_long_ago(room, 29, "2", "Ottershaw Textiles")
    edit(stencil, "min: 3.00", "min: 3.30")
    room.new = judged_long_ago(room, 7, "3")
    edit(stencil, "min: 3.30", "min: 3.40")
    return room


def test_rules_of_a_day_gone_by_are_those_that_its_jobs_were_judged_by(past):
    said = rules(past, "show", "--workflow", "stencil", "--as-of", day(20)).stdout
    assert said.splitlines()[0].startswith(f"as of {day(20)}, by job 1, filed {day(30)}")
    assert "solid_density.min: 3 density  # workflows/stencil.yaml:12 (workflow)" in said
    assert said.endswith(f"fingerprint {past.old}\n")
    later = rules(past, "show", "--workflow", "stencil", "--as-of", day(3)).stdout
    assert "solid_density.min: 3.3 density" in later


def test_the_same_is_given_to_programs(past):
    words = ("show", "--workflow", "stencil", "--customer", "ottershaw TEXTILES", "--json")
    told = json.loads(rules(past, *words, "--as-of", day(3)).stdout)
    assert (told["customer"], told["job"]) == ("Ottershaw Textiles", "2")
    limits = {entry["rule"]: entry for entry in told["rules"]}
    assert limits["solid_density.min"]["value"] == "3.2 density"
    assert limits["solid_density.min"]["layer"] == "customer"


def test_rules_of_today_and_of_a_day_to_come_are_read_from_the_files(past):
    stencil = past.root / "workflows/stencil.yaml"
    coming = day(-30)
    with stencil.open("a") as file:
        file.write(f"changes: [{{effective_from: {coming}, solid_density: {{min: 3.80}}}}]\n")
    now = rules(past, "show", "--workflow", "stencil", "--as-of", day(0)).stdout
    assert "solid_density.min  " in now
    assert "3.4 density" in now
    then = rules(past, "show", "--workflow", "stencil", "--as-of", day(-60), "--json").stdout
    limits = {entry["rule"]: entry["value"] for entry in json.loads(then)["limits"]}
    assert limits["solid_density.min"] == 3.8


def test_day_before_the_first_job_has_no_rules_on_record(past):
    said = rules(past, "show", "--workflow", "stencil", "--as-of", day(90), expect=2).stderr
    assert f"by {day(90)} no job was judged" in said
    assert "none are on record" in said
    words = ("show", "--workflow", "stencil", "--customer", "Nobody", "--as-of", day(1))
    assert '"Nobody"' in rules(past, *words, expect=2).stderr


def test_room_without_a_history_says_so(room):
    words = ("show", "--workflow", "stencil", "--as-of", day(1))
    assert "no job has been judged here yet" in rules(room, *words, expect=2).stderr


@pytest.mark.parametrize("text", ["yesterday", "20.11.2026", "2026-11-31"])
def test_what_is_no_day_is_refused(room, text):
    said = rules(room, "show", "--workflow", "stencil", "--as-of", text, expect=2).stderr
    assert "2026-11-20" in said


def test_two_fingerprints_are_compared_by_their_beginnings(past):
    said = rules(past, "diff", past.old[:8], past.new[:12], expect=1).stdout
    assert said == (
        "stencil\n  solid_density.min: 3 density (workflows/stencil.yaml:12) -> "
        "3.3 density (workflows/stencil.yaml:12)\n"
    )
    assert rules(past, "diff", past.old, past.old).stdout == "the same rules\n"


def test_two_days_are_compared_for_a_workflow(past):
    said = rules(past, "diff", day(20), day(0), "--workflow", "stencil", expect=1).stdout
    assert "solid_density.min: 3 density" in said
    assert "-> 3.4 density" in said
    assert "--workflow" in rules(past, "diff", day(20), day(0), expect=2).stderr


def test_two_folders_are_compared_pair_by_pair(room, tmp_path):
    edited = tmp_path / "edited"
    shutil.copytree(room.root / "workflows", edited / "workflows")
    shutil.copytree(room.root / "customers", edited / "customers")
    assert rules(room, "diff", str(room.root), str(edited)).stdout == "the same rules\n"
    edit(edited / "customers/quillmark.yaml", "tolerance: 1.5", "tolerance: 1.2")
    (edited / "customers/pennyroyal.yaml").unlink()
    shutil.copy(room.root / "site.yaml", edited)
    told = json.loads(rules(room, "diff", str(room.root), str(edited), "--json", expect=1).stdout)
    assert {(change["workflow"], change["rule"]) for change in told["changes"]} == {
        (workflow, "tints.50.tolerance")
        for workflow in ("fine-silver", "liquid-plate", "process-plate", "sheet-plate", "stencil")
    }
    assert told["changes"][0]["after"]["value"] == "1.2 percent"
    assert ["stencil", "Pennyroyal Preserves"] in told["only_before"]
    assert told["only_after"] == []
    text = rules(room, "diff", str(room.root), str(edited), expect=1).stdout
    assert "stencil, for Pennyroyal Preserves: only in the first\n" in text


def test_a_folder_of_some_files_lies_over_those_of_the_site_and_says_so(room, tmp_path):
    edited = tmp_path / "edited"
    (edited / "customers").mkdir(parents=True)
    shutil.copy(room.root / "customers/ottershaw.yaml", edited / "customers")
    edit(edited / "customers/ottershaw.yaml", "min: 3.20", "min: 3.30")
    done = rules(room, "diff", str(edited), str(room.root), expect=1)
    assert done.stdout == (
        "stencil, for Ottershaw Textiles\n"
        "  solid_density.min: 3.3 density (customers/ottershaw.yaml:11) -> "
        "3.2 density (customers/ottershaw.yaml:11)\n"
    )
    assert done.stderr == f"{edited} has no site.yaml: its files lie over the site's own\n"


def test_folder_is_compared_with_what_a_job_was_judged_by(past):
    said = rules(past, "diff", past.new, str(past.root), expect=1).stdout
    assert said.startswith("stencil\n  solid_density.min: 3.3 density")
    assert "only in" not in said


def test_folder_with_its_own_site_file_has_its_own_floors(room, tmp_path):
    edited = tmp_path / "edited"
    shutil.copytree(room.root, edited)
    edit(edited / "site.yaml", "min: 2.50", "min: 2.60")
    said = rules(room, "diff", str(room.root), str(edited)).stdout
    assert said == "the same rules\n"  # every workflow asks for more than either floor
    edit(edited / "site.yaml", "min: 2.60", "min: 3.90")
    said = rules(room, "diff", str(room.root), str(edited), expect=2).stderr
    assert "looser-than-floor" in said


def test_broken_folder_is_not_compared(room, tmp_path):
    (tmp_path / "workflows").mkdir()
    (tmp_path / "workflows/w.yaml").write_text("workflow: w\n")
    said = rules(room, "diff", str(room.root), str(tmp_path), expect=2).stderr
    assert "workflows/w.yaml:1:1" in said


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("nowhere", "neither a folder, a fingerprint nor a day"),
        ("0123456789ab", "no job was judged by rules that have"),
    ],
)
def test_what_names_no_rules_is_refused(past, name, says):
    assert says in rules(past, "diff", name, str(past.root), expect=2).stderr


def taken_up(room, days):
    """Let the gate take up the rules of now, so many days ago."""
    site, moment = read_site(room.root), datetime.now(UTC) - timedelta(days=days)
    clock = SimpleNamespace(now=lambda: moment, monotonic=time.monotonic)
    with history_of(site, clock) as history:
        ledger = Ledger(
            history,
            Disk(),
            site.mark,
            site.root,
            site.state / "outbox",
            lambda: None,
            lambda: moment,
        )
        tell_rules(ledger, site.state, read_book(site).library)
        return len(history.events())


def test_day_on_which_nobody_was_judged_has_the_rules_that_were_taken_up(room):
    stencil = room.root / "workflows/stencil.yaml"
    taken_up(room, 40)
    edit(stencil, "min: 3.00", "min: 3.30")
    taken_up(room, 10)
    words = ("show", "--workflow", "stencil", "--as-of")
    said = rules(room, *words, day(30)).stdout
    assert said.splitlines()[0].startswith(f"as of {day(30)}, taken up {day(40)}")
    assert "solid_density.min: 3 density  # workflows/stencil.yaml:12 (workflow)" in said
    assert "solid_density.min: 3.3 density" in rules(room, *words, day(3)).stdout
    other = rules(room, *words, day(3), "--customer", "ottershaw textiles", "--json").stdout
    assert json.loads(other)["job"] == ""
    assert "none are on record" in rules(room, *words, day(50), expect=2).stderr
    told = rules(room, "diff", day(30), day(3), "--workflow", "stencil", expect=1).stdout
    assert "solid_density.min: 3 density" in told


def test_rules_are_told_once_and_again_in_another_history(room):
    first = taken_up(room, 40)
    assert taken_up(room, 39) == first
    edit(room.root / "workflows/stencil.yaml", "title:", "# a comment\ntitle:")
    assert taken_up(room, 38) == first
    for path in (room.root / "state").glob("history.sqlite*"):
        path.unlink()
    assert taken_up(room, 37) == first
    (room.root / "state/rules-told.json").write_text("{torn")
    assert taken_up(room, 36) == first + 1


def test_verdict_that_is_later_than_what_was_told_counts(past):
    stencil = past.root / "workflows/stencil.yaml"
    edit(stencil, "min: 3.40", "min: 3.05")
    taken_up(past, 20)
    words = ("show", "--workflow", "stencil", "--as-of")
    assert "solid_density.min: 3.05 density" in rules(past, *words, day(15)).stdout
    assert "solid_density.min: 3.3 density" in rules(past, *words, day(3)).stdout


def test_job_with_a_ticket_says_nothing_of_the_rules_of_all(room, sheet):
    tomorrow = ("show", "--workflow", "liquid-plate", "--customer", "Quillmark Cartons", "--as-of")
    room.drop("1041.csv", sheet())
    room.drop("1041.yaml", "solid_density: {min: 2.87}")
    room.sweep()
    site = read_site(room.root)
    with history_of(site, SystemClock()) as history:
        found = history.rules_at("liquid-plate", "Quillmark Cartons", datetime.now(UTC))
    assert found.job == ""
    assert "(ticket)" not in found.rules.text
    assert "2.85" in rules(room, *tomorrow, day(0)).stdout
