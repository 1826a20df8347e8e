import io
import unicodedata

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.cells import cell_len
from rich.console import Console

from gatekeeper.show.facts import HOLDING
from gatekeeper.show.lines import LONGEST, columns
from gatekeeper.show.tables import JobRow, counts_line, job_lines, print_jobs, row_of
from gatekeeper.show.why import print_report
from gatekeeper.wording import plain

HIDDEN = {"Cc", "Cf", "Cs", "Co", "Zl", "Zp"}
ESCAPES = "\x1b"


def printed(show, *, width=80, encoding="utf-8", terminal=False):
    raw = io.BytesIO()
    colours = "standard" if terminal else "auto"
    with io.TextIOWrapper(raw, encoding=encoding, newline="\n") as file:
        show(Console(file=file, width=width, force_terminal=terminal, color_system=colours))
        file.flush()
        return raw.getvalue().decode(encoding)


@given(st.data(), st.integers(40, 130), st.sampled_from(["utf-8", "ascii", "cp1252"]))
@settings(max_examples=40, deadline=None)
def test_no_text_breaks_the_report_on_a_terminal(any_verdict, data, width, encoding):
    verdict = data.draw(any_verdict)
    text = printed(lambda console: print_report(console, verdict), width=width, encoding=encoding)
    for line in text.removesuffix("\n").split("\n"):
        assert cell_len(line) <= width
        assert not {unicodedata.category(character) for character in line} & HIDDEN
    letters = "".join(text.split())
    for finding in verdict.findings if encoding == "utf-8" else ():
        if finding.outcome in HOLDING:
            assert "".join(plain(finding.says, LONGEST).split()) in letters


def test_foreign_text_means_nothing_to_the_terminal_library():
    row = JobRow("HELD", "1041[/red]", "liquid[bold]", ":smile:", "why [link=x]not[/link]")
    text = printed(lambda console: print_jobs(console, [row]))
    for word in ("1041[/red]", "liquid[bold]", ":smile:", "why [link=x]not[/link]"):
        assert word in text


def test_words_say_everything_that_weight_says(gold_verdict):
    verdict = gold_verdict("held")
    plainly = printed(lambda console: print_report(console, verdict))
    loudly = printed(lambda console: print_report(console, verdict), terminal=True)
    assert ESCAPES not in plainly
    assert ESCAPES in loudly
    colours = {f"\x1b[{code}m" for code in (*range(30, 38), *range(40, 48), *range(90, 108))}
    assert not any(colour in loudly for colour in colours)


cell = st.text(max_size=70)
rows = st.lists(st.builds(JobRow, st.sampled_from(["HELD", "approved"]), cell, cell, cell, cell))


@given(rows, st.integers(20, 160))
def test_a_list_of_jobs_never_grows_wider_than_the_page(jobs, width):
    for line in job_lines(jobs, width):
        assert columns(line) <= width
        assert not {unicodedata.category(character) for character in line} & HIDDEN


def test_reasons_stand_behind_their_rows_where_they_fit_and_below_where_not():
    jobs = [JobRow("HELD", "7", "plate", "Quillmark", "the solid is too thin")]
    assert job_lines(jobs) == [
        "      job  workflow  customer   why",
        "HELD  7    plate     Quillmark  the solid is too thin",
    ]
    assert job_lines(jobs, 40) == [
        "      job  workflow  customer",
        "HELD  7    plate     Quillmark",
        "      the solid is too thin",
    ]


@pytest.mark.parametrize(
    ("states", "line"),
    [
        ([], "no jobs"),
        (["HELD"], "1 job: 1 HELD"),
        (["approved", "HELD", "approved", "waiting"], "4 jobs: 1 HELD, 2 approved, 1 waiting"),
    ],
)
def test_jobs_are_counted_by_state(states, line):
    assert counts_line([JobRow(state, "", "", "", "") for state in states]) == line
    assert printed(lambda console: print_jobs(console, [])) == "no jobs\n"


def test_a_row_gives_the_first_reason_and_how_many_more(gold_verdict):
    assert row_of(gold_verdict("held")).reason.endswith("(and 2 more)")
    assert row_of(gold_verdict("was-approved")).reason == "the weakest solid lets light through"
    assert row_of(gold_verdict("approved")).reason == "every limit met"
    assert row_of(gold_verdict("concession")).reason.startswith("concession: by JV")
    assert row_of(gold_verdict("approved")).state == "approved"
    assert row_of(gold_verdict("held")).state == "HELD"
