"""Each check on sheets as operators write them: a folder a check, a file or folder a case.

README.md says how a case is added; there is nothing to do here for it.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
import yaml
from bench import holding, job_sheet, judged

from gatekeeper.checks.job import JOB_RULES
from gatekeeper.checks.registry import CHECKS
from gatekeeper.rules.models import Limits
from gatekeeper.signals import Signal, Signals
from gatekeeper.verdict import Decision, Outcome

HERE = Path(__file__).parent
REGISTER = (HERE / "register.yaml").read_text(encoding="utf-8")
JOB = "job"  # what holds for every job, whatever its rules
FOLDERS = sorted(path.parent.name for path in HERE.glob("*/rules.yaml"))
PASSES = sorted(HERE.glob("*/passes/*"))
HOLDS = sorted(HERE.glob("*/holds/*"))


def named(path):
    return f"{path.parents[1].name}/{path.name}"


@cache
def verdict_of(path):
    files = sorted(path.iterdir()) if path.is_dir() else [path]
    sheets = [job_sheet(file.read_bytes(), file.name, file.name) for file in files]
    rules = (path.parents[1] / "rules.yaml").read_text(encoding="utf-8")
    rules = rules.removeprefix("workflow: plate\n")
    return judged(*sheets, rules=rules, in_register=REGISTER, signals=signals_of(path))


def signals_of(path):
    """Return what the control charts show for a case, where its folder has a table of that."""
    table = path.parents[1] / "signals.yaml"
    if not table.is_file():
        return {}
    shown = yaml.safe_load(table.read_text(encoding="utf-8")).get(path.stem, {})
    if shown == "away":
        return {"black": Signals(unknown="the history is away", is_away=True)}
    found = [
        Signal(quantity, tuple(signs), f"{quantity} stands elsewhere")
        for quantity, signs in shown.items()
    ]
    return {"black": Signals(tuple(found))}


def rules_in_name(path):
    """Return the rules that hold the case: what stands before `--`, joined by `+`."""
    return path.name.partition("--")[0].split("+")


@pytest.mark.parametrize("path", PASSES, ids=named)
def test_case_that_passes_is_approved(path):
    verdict = verdict_of(path)
    assert (verdict.decision, holding(verdict)) == (Decision.APPROVED, [])


@pytest.mark.parametrize("path", HOLDS, ids=named)
def test_case_that_holds_is_held_by_the_rules_in_its_name_and_no_others(path):
    verdict = verdict_of(path)
    assert verdict.decision is Decision.HELD
    assert sorted(holding(verdict)) == sorted(rules_in_name(path))


@pytest.mark.parametrize("path", HOLDS, ids=named)
def test_whatever_holds_says_what_to_do(path):
    for finding in verdict_of(path).findings:
        if finding.outcome in {Outcome.HOLD, Outcome.NOT_JUDGED}:
            assert finding.do, finding.rule
            assert finding.says[0].islower() or not finding.says[0].isalpha()
            assert not finding.says.endswith(".")


def test_every_check_has_a_folder_and_every_folder_a_check():
    assert sorted([*(check.NAME for check in CHECKS), JOB]) == FOLDERS


@pytest.mark.parametrize("name", FOLDERS)
def test_every_check_has_cases_of_both_kinds(name):
    assert list((HERE / name / "passes").iterdir())
    assert list((HERE / name / "holds").iterdir())


def limits_of(model, path=()):
    """Yield every limit that the models know, as findings name it; of lists, the section."""
    for key, field in model.model_fields.items():
        extra = field.json_schema_extra
        inner = [
            part for part in getattr(field.annotation, "__args__", ()) if part is not type(None)
        ]
        if isinstance(extra, dict):
            if not extra["is_setting"] and key != "required":  # which is a limit for each field
                yield ".".join((*path, key))
        elif inner and hasattr(inner[0], "model_fields"):
            yield from limits_of(inner[0], (*path, key))


HELD_BY = {rule for path in HOLDS for rule in rules_in_name(path)}


OTHER_JOBS = "plausibility.same_readings_days"  # a case is one job; see test_same_readings


@pytest.mark.parametrize("rule", sorted({*limits_of(Limits)} - {OTHER_JOBS}))
def test_every_limit_has_a_case_that_it_holds(rule):
    assert rule in HELD_BY


def test_every_rule_of_the_job_itself_has_a_case_but_the_one_about_other_jobs():
    assert set(JOB_RULES) - HELD_BY == {"sheet.own"}
