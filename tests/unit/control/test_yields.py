from dataclasses import replace

import pytest

from gatekeeper.control.shares import share
from gatekeeper.control.yields import yield_of
from gatekeeper.history.past import Outcome
from gatekeeper.verdict import Decision

PASSED = Outcome(
    "1",
    "liquid-plate",
    Decision.APPROVED,
    is_newest=True,
    is_conceded=False,
    printer="",
    film_lot="",
    rules=(),
)


def approved(job, concession=None):
    return replace(PASSED, home=job, is_conceded=concession is not None)


def held(job, *rules):
    return replace(PASSED, home=job, decision=Decision.HELD, rules=rules)


def test_first_pass_counts_jobs_that_their_first_verdict_approved():
    found = yield_of(
        [approved("1"), held("2", "solid_density.min"), approved("2"), held("3", "tints.50.x")]
    )
    assert (found.first_pass.part, found.first_pass.whole) == (1, 3)
    assert (found.held.part, found.held.whole) == (1, 3)


def test_a_job_that_waited_for_its_second_separation_has_not_failed():
    found = yield_of([held("1", "job.complete"), approved("1")])
    assert (found.first_pass.part, found.first_pass.whole) == (1, 1)
    assert found.reasons == ()


def test_a_job_that_still_waits_is_counted_nowhere():
    found = yield_of([held("1", "job.complete")])
    assert (found.held.whole, found.first_pass.whole) == (0, 0)
    assert found.held.fraction is None


def test_a_concession_is_no_first_pass():
    found = yield_of([approved("1", concession="JV: customer agreed"), approved("2")])
    assert (found.first_pass.part, found.first_pass.whole) == (1, 2)
    assert found.concessions == 1


def test_a_held_verdict_without_reason_still_counts_as_held():
    found = yield_of([held("1", "film.stocks"), held("1", "film.stocks", "job.complete")])
    assert (found.held.part, found.held.whole) == (1, 1)


def test_reasons_are_counted_once_a_job_the_most_frequent_first_with_their_running_share():
    found = yield_of(
        [
            held("1", "a.min", "b.max"),
            held("1", "a.min"),
            held("2", "a.min", "job.complete"),
            held("3", "c.max"),
        ]
    )
    assert [(reason.rule, reason.jobs) for reason in found.reasons] == [
        ("a.min", 2),
        ("b.max", 1),
        ("c.max", 1),
    ]
    assert [reason.running for reason in found.reasons] == pytest.approx([0.5, 0.75, 1.0])


def test_nothing_comes_of_nothing():
    found = yield_of([])
    assert found.first_pass.fraction is None
    assert (found.held.lower, found.held.upper) == (0.0, 1.0)


@pytest.mark.parametrize(("part", "whole"), [(-1, 5), (6, 5)])
def test_a_part_that_is_none_is_refused(part, whole):
    with pytest.raises(ValueError, match="5"):
        share(part, whole)


@pytest.mark.parametrize("whole", [1, 5, 200])
def test_bounds_hold_the_share_and_stay_between_nothing_and_all(whole):
    for part in range(whole + 1):
        found = share(part, whole)
        assert 0.0 <= found.lower <= found.fraction <= found.upper <= 1.0
