"""`rules try`: what edited rules would have done to jobs that went through the gate."""

import io
import json
import shutil
from contextlib import redirect_stderr, redirect_stdout
from types import SimpleNamespace

import pytest

from gatekeeper.cli.base import run
from gatekeeper.cli.entry import gatekeeper
from gatekeeper.site import read_site
from gatekeeper.trying.rehearsing import rehearse_folder
from gatekeeper.trying.trial import try_files
from gatekeeper.verdict import Decision, Outcome

LIQUID = "workflows/liquid-plate.yaml"

SOLIDS = {
    "thin": (2.71, 2.75, 2.72),
    "usual": (2.88, 2.91, 2.90),
    "dense": (3.40, 3.42, 3.41),
    "uneven": (2.75, 2.93, 2.80),
    "held": (2.60, 2.90, 2.91),
}
TINTS = {"on": 50.4, "low": 48.1, "high": 52.6}


HEAD = {
    "customer": "Pennyroyal Preserves",
    "printer": "P1",
    "film lot": "M5-0317",
    "meter": "T-04",
    "operator": "JV",
    "printed": "2026-11-20 09:40",
    "measured": "2026-11-20 10:05",
    "zeroed on": "clear",
    "ruling": "65 lpi",
    "resolution": "1440 dpi",
}


def rows(solids, dot):
    found = ["clear,,0.00,,,left"]
    found += [f"solid,,{density},,,spot" for density in solids]
    return (*found, f"tint,50,,{dot},,centre")


class Past:
    """A room in which jobs of every kind have been judged. Nothing here changes it."""

    def __init__(self, root):
        self.root = root
        self.call("init", str(root))

    def call(self, *words, expect=0):
        out, err = io.StringIO(), io.StringIO()
        with redirect_stdout(out), redirect_stderr(err):
            code = run(gatekeeper, list(words))
        assert expect is None or code == expect, out.getvalue() + err.getvalue()
        return SimpleNamespace(code=code, stdout=out.getvalue(), stderr=err.getvalue())

    def drop(self, job, found=None, text=None, **changes):
        head = {**HEAD, "job": job, **changes}
        lines = [f"{name},{value}" for name, value in head.items() if value]
        text = text or "\n".join([*lines, "", "patch,nominal,density,dot,length,where", *found, ""])
        (self.root / f"drop/liquid-plate/{job}.csv").write_text(text)

    @property
    def decisions(self):
        folders = (path.parent for path in self.root.glob("*/liquid-plate/*/verdict.json"))
        return {folder.name: folder.parent.parent.name for folder in folders}


@pytest.fixture(scope="module")
def past(tmp_path_factory):
    """Judge jobs that are thin, dense, uneven, off in the tint, unreadable or beyond the meter."""
    past = Past(tmp_path_factory.mktemp("past") / "site")
    for name, solids in SOLIDS.items():
        for tint, dot in TINTS.items():
            past.drop(f"{name}-{tint}", rows(solids, dot))
    past.drop("over", rows((">4.0", ">4.0", ">4.0"), 50.1), customer="Quillmark Cartons")
    past.drop("under", rows(("<2.9", "<2.9", "<2.9"), 50.1))
    past.drop("few", rows((2.95,), 50.1))
    past.drop("bare", rows((2.91, 2.88, 2.90), 50.8), meter="")
    past.drop("stranger", rows((2.91, 2.88, 2.90), 50.8), customer="Hollin Soups")
    past.drop("torn", text="job,torn\nno table\n")
    air = [row.replace("0.00", "0.06") for row in rows((2.96, 3.0, 3.05), 50.2)]
    past.drop("air", air, **{"zeroed on": "air"})
    past.call("sweep", "--settle", "0", "--site", str(past.root))
    assert len(past.decisions) == 22
    return past


def edited(room, *changes):
    """Return a copy of the site with lines of its files changed."""
    copy = room.root.parent / f"edited-{len(list(room.root.parent.iterdir()))}"
    copy.mkdir()
    for name in ("workflows", "customers", "register", "readers", "site.yaml"):
        source = room.root / name
        (shutil.copytree if source.is_dir() else shutil.copy)(source, copy / name)
    for name, old, new in changes:
        text = (copy / name).read_text()
        assert old in text
        (copy / name).write_text(text.replace(old, new, 1))
    return copy


def try_out(room, folder, *words, expect=0):
    return room.call("--site", str(room.root), "rules", "try", str(folder), *words, expect=expect)


def decisions_live(past, folder):
    """Judge the sheets of every job folder with the real gate under the edited rules."""
    files = sorted(past.root.glob("*/liquid-plate/*/*.csv"))
    judged = try_files(read_site(folder), files, "liquid-plate")
    return {entry.verdict.job: entry.verdict.decision.value for entry in judged}


EDITS = {
    "denser": [(LIQUID, "min: 2.70", "min: 2.89")],
    "thinner": [(LIQUID, "min: 2.70", "min: 2.55")],
    "beyond the meter": [(LIQUID, "min: 2.70", "min: 4.20")],
    "tighter tints": [(LIQUID, "tolerance: 2.0", "tolerance: 1.0")],
    "wider tints": [(LIQUID, "tolerance: 2.0", "tolerance: 2.8")],
    "even": [(LIQUID, "spread: 0.20", "spread: 0.10")],
    "thinner, and no spread that a bound could not answer": [
        (LIQUID, "min: 2.70", "min: 2.55"),
        (LIQUID, "  spread: 0.20", "  # spread: 0.20"),
    ],
    "one spot": [(LIQUID, "spots: 3", "spots: 1")],
    "no spread": [(LIQUID, "  spread: 0.20", "  # spread: 0.20")],
    "a maximum": [(LIQUID, "  spots: 3", "  max: 3.0\n  spots: 3")],
    "another tint": [(LIQUID, "tints:\n", "tints:\n  - {nominal: 95, tolerance: 2}\n")],
    "no meter asked for": [(LIQUID, "film lot, meter, operator", "film lot, operator")],
    "guarded": [(LIQUID, "tints:\n", "decision: {rule: guarded}\ntints:\n")],
    "several at once": [
        (LIQUID, "min: 2.70", "min: 2.74"),
        (LIQUID, "tolerance: 2.0", "tolerance: 2.8"),
        (LIQUID, "spots: 3", "spots: 1"),
        ("customers/quillmark.yaml", "min: 2.85", "min: 2.60"),
    ],
    "a new customer": [
        ("customers/pennyroyal.yaml", "customer: Pennyroyal Preserves", "customer: Hollin Soups")
    ],
}  # fmt: skip


AGED = ("register/films.yaml", "opened: 2026-11-02", "opened: 2026-07-02")


@pytest.mark.parametrize("name", EDITS)
def test_jobs_that_change_are_those_that_the_same_edit_made_live_would_change(past, name):
    folder = edited(past, *EDITS[name])
    before, live = past.decisions, decisions_live(past, folder)
    told = json.loads(try_out(past, folder, "--json").stdout)
    after = {**before, **{entry["job"]: entry["after"] for entry in told["changed"]}}
    assert after == live
    assert told["held_after"]["held"] == sum(decision == "held" for decision in live.values())


def test_comment_in_the_register_is_no_edit(past):
    note = ("register/meters.yaml", "meters:", "# looked at again\nmeters:")
    found = rehearse_folder(read_site(past.root), edited(past, note), None, "", "")
    assert (found.judged_by_checks, found.changed) == (0, ())


def test_edited_lot_holds_the_jobs_on_its_film_by_the_limit_that_it_now_misses(past):
    found = rehearse_folder(read_site(past.root), edited(past, AGED), None, "", "")
    assert found.by_rule == {"film.max_open_days": len(found.changed)}
    assert {entry.after for entry in found.changed} == {Decision.HELD}
    assert len(found.changed) == found.before.whole - found.before.part


def test_a_rehearsal_tells_how_many_jobs_the_checks_have_judged(past):
    said = []
    found = rehearse_folder(
        read_site(past.root),
        edited(past, *EDITS["denser"], AGED),
        None,
        "",
        "",
        told=lambda done, total: said.append((done, total)),
    )
    assert said[-1] == (found.judged_by_checks, found.judged_by_checks)
    assert said == sorted(said)


def test_numbers_alone_need_no_check_but_for_readings_that_are_only_bounds(past):
    site = read_site(past.root)
    found = rehearse_folder(site, edited(past, *EDITS["denser"]), None, "", "")
    assert found.judged_by_checks <= 1  # one reading is a bound
    assert found.to(Decision.HELD)


def test_the_answer_says_how_many_which_and_by_which_rule(past):
    said = try_out(past, edited(past, *EDITS["denser"])).stdout
    lines = said.splitlines()
    assert lines[0] == "judged again: 22 jobs, each by its newest verdict"
    assert lines[1].startswith("would have been held      ")
    assert "95 %: " in lines[4]
    assert "  solid_density.min  " in said
    assert (
        "thin-on (liquid-plate, Pennyroyal Preserves)  approved -> HELD  solid_density.min" in said
    )
    assert "held -> approved" not in said


def test_rules_that_change_nothing_change_no_job(past):
    said = try_out(past, edited(past, (LIQUID, "min: 2.70", "min: 2.7  # a comment"))).stdout
    assert "would have been held      0 of" in said
    assert "by rule" not in said


def test_only_the_jobs_meant_are_judged(past):
    folder = edited(past, *EDITS["denser"])

    def jobs(*words):
        return json.loads(try_out(past, folder, "--json", *words).stdout)["jobs"]

    assert jobs("--workflow", "liquid-plate") == 22
    assert jobs("--workflow", "stencil") == 0
    assert jobs("--customer", "pennyroyal preserves") == 19
    assert jobs("--since", "1h") == 22
    assert jobs("--since", "2199-01-01") == 0
    assert "nothing to try" in try_out(past, folder, "--since", "2199-01-01").stdout


def test_copy_of_one_file_lies_over_the_site(past, tmp_path):
    one = tmp_path / "one"
    (one / "workflows").mkdir(parents=True)
    text = (past.root / LIQUID).read_text()
    (one / LIQUID).write_text(text.replace("min: 2.70", "min: 2.89"))
    whole = json.loads(try_out(past, edited(past, *EDITS["denser"]), "--json").stdout)
    assert json.loads(try_out(past, one, "--json").stdout) == whole


def test_new_floor_is_tried_with_its_site_file(past):
    folder = edited(past, ("site.yaml", "min: 2.50", "min: 2.80"))
    said = try_out(past, folder, expect=2).stderr
    assert "looser-than-floor" in said


@pytest.mark.parametrize("how", ["missing", "empty", "broken"])
def test_folder_that_holds_no_rules_is_refused(past, how, tmp_path):
    folder = tmp_path / "other"
    says = {"missing": "is no folder", "empty": "no file of rules", "broken": "not-a-number"}
    if how != "missing":
        (folder / "workflows").mkdir(parents=True)
    if how == "broken":
        text = (past.root / LIQUID).read_text().replace("min: 2.70", "min: two")
        (folder / LIQUID).write_text(text)
    assert says[how] in try_out(past, folder, expect=2).stderr


def test_room_without_a_past_says_so(room):
    said = try_out(room, edited(room), expect=2).stderr
    assert "no job has been judged here yet" in said


def test_nothing_to_try_is_a_wrong_call(room):
    said = room.call("--site", str(room.root), "rules", "try", expect=2).stderr
    assert "--suggest" in said


def suggest(room, rule, *words, expect=0):
    return room.call(
        "--site", str(room.root), "rules", "try", "--suggest", rule, *words, expect=expect
    )


def test_limits_are_suggested_with_the_jobs_that_they_would_have_held(past):
    told = json.loads(suggest(past, "solid_density.min", "--json").stdout)["suggestions"]
    (table,) = told
    assert (table["rule"], table["unit"]) == ("solid_density.min", "density")
    assert table["limits"][0] == {
        "limit": 2.6, "held": 0, "jobs": table["limits"][0]["jobs"], "share": 0.0, "lower": 0.0,
        "upper": table["limits"][0]["upper"],
    }  # fmt: skip
    limits = [row["limit"] for row in table["limits"]]
    assert limits == sorted(limits)
    said = suggest(past, "solid_density").stdout
    assert "solid_density.min (density)\n     limit  jobs held  share\n" in said
    assert "solid_density.spread (density)\n" in said


def test_suggested_limit_holds_what_the_table_says(past):
    rule = "tints.50.tolerance"
    (table,) = json.loads(suggest(past, rule, "--json").stdout)["suggestions"]
    files = sorted(past.root.glob("*/liquid-plate/*/*.csv"))
    for row in table["limits"]:
        folder = edited(
            past,
            (LIQUID, "tolerance: 2.0", f"tolerance: {row['limit']}"),
            ("site.yaml", "tolerance: 3.0", "tolerance: 90"),
        )
        judged = try_files(read_site(folder), files, "liquid-plate")
        answers = [finding for entry in judged for finding in entry.verdict.findings]
        held = [entry for entry in answers if (entry.rule, entry.outcome) == (rule, Outcome.HOLD)]
        assert len(held) == row["held"]


@pytest.mark.parametrize("rule", ["sold_density", "film.stocks", "tints.33"])
def test_limit_that_no_number_answers_cannot_be_suggested(past, rule):
    said = suggest(past, rule, expect=2).stderr
    assert "no job meant was judged by a number" in said
