from meter_files import DUMP, LOG, site
from reading import numbers, problems, read

from gatekeeper.sheet import Bound, Trace


def test_a_plain_text_dump_is_read_through_patterns_with_named_groups():
    sheet = read(LOG, "log.txt", site(DUMP))
    assert problems(sheet) == []
    assert [(name, len(patches)) for name, patches in numbers(sheet)] == [("black", 3), ("cyan", 1)]
    black, cyan = sheet.negatives
    assert {one.job.value for one in sheet.negatives} == {"1041"}
    assert {one.meter.value for one in sheet.negatives} == {"T-04"}
    assert black.measured.instant.minute == 5
    assert black.patches[1].density.bound is Bound.AT_LEAST
    assert black.patches[2].nominal.value == 50
    assert black.patches[2].density.trace == Trace(7, 11)
    assert cyan.patches[0].density.value == 2.85
    assert sheet.notes == (
        (
            "2 lines fit no pattern of the profile and were left unread; "
            'the first is line 1: "METER LOG 3"'
        ),
    )


def test_a_pattern_that_would_cut_a_number_is_a_problem_and_no_reading():
    sheet = read(LOG.replace("D=2.85", "D=2,85"), "log.txt", site(DUMP))
    assert 'takes "2" out of the middle of a number' in problems(sheet)[0]
    assert sheet.problems[0].trace == Trace(10, 9)
