"""Nothing repeats endlessly, and what stands is told again, and its end is."""

import logging
from itertools import pairwise

import pytest

from gatekeeper.logs.damper import PACED, Damper
from gatekeeper.logs.recurrence import LONGEST_S, Recurrence, span
from gatekeeper.logs.standing import MORE, MOST, REST_S, Standing

DAY_S = 86_400


class Told(logging.Handler):
    """The lines that came through, in short."""

    def __init__(self):
        super().__init__()
        self.lines = []

    def emit(self, record):
        self.lines.append((record.levelname, record.getMessage()))


class Hands:
    """A clock that is moved by hand (s)."""

    now_s = 1000.0

    def __call__(self):
        return self.now_s


@pytest.fixture
def clock():
    return Hands()


@pytest.fixture
def told():
    handler = Told()
    # One of its own, whose lines go nowhere else and which nobody else finds.
    handler.log = logging.Logger("test")  # noqa: LOG001
    handler.log.addHandler(handler)
    return handler


@pytest.fixture
def standing(clock, told):
    return Standing(told.log, clock)


def warning(text, name="watchdog"):
    return logging.LogRecord(name, logging.WARNING, "x.py", 1, text, (), None)


def moments_told(every_s, for_s):
    """Return after how many seconds a thing that is met so often is said again."""
    thing = Recurrence(0.0)
    steps = range(1, int(for_s / every_s) + 1)
    return [step * every_s for step in steps if thing.is_due(step * every_s)]


def test_intervals_grow_fourfold_up_to_a_day():
    found = moments_told(15, 4 * DAY_S)
    assert found[:5] == [60, 300, 1260, 5100, 20460]
    assert [later - former for former, later in pairwise(found)] == [
        240, 960, 3840, 15360, 61440, LONGEST_S, LONGEST_S, LONGEST_S,
    ][: len(found) - 1]  # fmt: skip


def test_fault_of_a_year_costs_less_than_four_hundred_lines():
    assert len(moments_told(60, 365 * DAY_S)) < 400


def test_rare_meetings_are_told_when_they_are_met():
    assert moments_told(3600, 7200) == [3600, 7200]


def test_fault_is_told_once_then_still_then_over(standing, clock, told):
    for _ in range(8):  # two minutes in rounds of fifteen seconds
        standing.tell(["the share is away"])
        clock.now_s += 15
    standing.tell([])
    assert told.lines == [
        ("WARNING", "the share is away"),
        ("WARNING", "still, after 60 s: the share is away"),
    ]
    clock.now_s += REST_S
    standing.tell([])
    standing.tell([])
    assert told.lines[2:] == [("INFO", "over, after 105 s: the share is away")]


def test_fault_that_flickers_is_one_fault(standing, clock, told):
    for _ in range(20):
        standing.tell(["the share is away"])
        clock.now_s += 5
        standing.tell([])
        clock.now_s += 5
    assert len(told.lines) == 2


def test_fault_that_comes_again_after_its_end_is_told_at_once(standing, clock, told):
    standing.tell(["x"])
    clock.now_s += REST_S
    standing.tell([])
    standing.tell(["x"])
    assert [line for _, line in told.lines] == ["x", "over, after 0 s: x", "x"]


def test_new_fault_is_told_beside_one_that_stands(standing, told):
    standing.tell(["x"])
    standing.tell(["x", "y"])
    assert [line for _, line in told.lines] == ["x", "y"]


def test_thousand_faults_at_once_are_not_a_thousand_lines(standing, told):
    standing.tell([f"{number}.csv cannot be read" for number in range(1000)])
    assert len(told.lines) == MOST + 1
    assert told.lines[-1] == ("WARNING", MORE)


def test_same_warning_of_a_library_is_counted_and_not_written(clock):
    damper = Damper(clock)
    written = []
    for _ in range(1500):
        line = damper.let_through(warning("queue overflow"))
        if line:
            written.append(line.getMessage())
        clock.now_s += 0.25
    assert written == [
        "queue overflow",
        "queue overflow (241 times in 60 s)",
        "queue overflow (1201 times in 5 min)",
    ]


def test_other_warnings_and_all_news_come_through(clock):
    damper = Damper(clock)
    news = logging.LogRecord("gate", logging.INFO, "x.py", 1, "1044 held", (), None)
    lines = [warning("x"), warning("y"), warning("x", "apscheduler"), news, news]
    assert [damper.let_through(line) for line in lines] == lines


def test_warning_that_rested_is_news_again(clock):
    damper = Damper(clock)
    damper.let_through(warning("x"))
    clock.now_s += 61
    assert damper.let_through(warning("x")).getMessage() == "x"


def test_line_whose_writer_paces_it_is_never_held_back(clock):
    damper = Damper(clock)
    line = warning("the share is away")
    line.__dict__.update(PACED)
    assert [damper.let_through(line), damper.let_through(line)] == [line, line]


def test_damper_remembers_a_bounded_number_of_lines(clock):
    damper = Damper(clock)
    for number in range(10_000):
        damper.let_through(warning(f"{number}"))
    assert len(damper._known) == 500  # noqa: SLF001 -- memory is what is asked about


@pytest.mark.parametrize(
    ("seconds", "says"),
    [
        (0, "0 s"),
        (119, "119 s"),
        (120, "2 min"),
        (7199, "120 min"),
        (7200, "2 h"),
        (172800, "2 days"),
    ],
)
def test_spans_are_said_in_a_unit_that_people_use(seconds, says):
    assert span(seconds) == says
