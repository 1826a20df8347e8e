"""The reports of a few verdicts, on disk as people see them.

A folder holds a verdict and what is printed for it. When they differ, the new text is left beside
the old one, with `.new` behind its name, and the difference is printed.
"""

import difflib
import io
from pathlib import Path

import pytest
from rich.console import Console

from gatekeeper.show.report import report_text
from gatekeeper.show.tables import print_jobs, row_of
from gatekeeper.show.why import print_report

GOLD = Path(__file__).parent / "gold"
CASES = sorted(folder.name for folder in GOLD.iterdir() if folder.is_dir())
TITLE = "Liquid photopolymer, corrugated"


def compare(gold, text):
    new = gold.with_name(gold.name + ".new")
    old = gold.read_text("utf-8") if gold.exists() else ""
    if text == old:
        new.unlink(missing_ok=True)
        return
    new.write_text(text, "utf-8")
    lines = difflib.unified_diff(old.splitlines(), text.splitlines(), str(gold), str(new), "", "")
    pytest.fail("\n".join(lines), pytrace=False)


def printed(encoding, width, show):
    raw = io.BytesIO()
    with io.TextIOWrapper(raw, encoding=encoding, newline="\n") as file:
        show(Console(file=file, width=width))
        file.flush()
        lines = raw.getvalue().decode(encoding).splitlines()
    return "".join(f"{line.rstrip()}\n" for line in lines)


def test_the_cases_cover_what_a_report_can_be():
    assert {"approved", "held", "not-judged", "was-approved", "separations"} <= set(CASES)


@pytest.mark.parametrize("case", CASES)
def test_report_is_as_on_disk(case, gold_verdict):
    compare(GOLD / case / "report.txt", report_text(gold_verdict(case), title=TITLE))


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize(("name", "encoding"), [("why.txt", "utf-8"), ("why-ascii.txt", "ascii")])
def test_report_on_a_terminal_is_as_on_disk(case, name, encoding, gold_verdict):
    verdict = gold_verdict(case)
    text = printed(encoding, 80, lambda console: print_report(console, verdict, title=TITLE))
    compare(GOLD / case / name, text)


@pytest.mark.parametrize("width", [80, 140])
def test_list_of_jobs_is_as_on_disk(width, gold_verdict):
    rows = [row_of(gold_verdict(case)) for case in CASES]
    compare(
        GOLD / f"jobs-{width}.txt",
        printed("utf-8", width, lambda console: print_jobs(console, rows)),
    )
