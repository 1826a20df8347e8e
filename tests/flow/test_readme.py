"""What README.md shows is what the program prints."""

import re
from pathlib import Path

import pytest

from gatekeeper.demo.week import run_demo

README = (Path(__file__).parents[2] / "README.md").read_text()


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    return run_demo(tmp_path_factory.mktemp("demo") / "site")


def blocks():
    return re.findall(r"^```\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)


def test_the_lines_of_the_demos_list_stand_as_it_prints_them(demo):
    listed = {(job.decision.upper(), job.job): job for job in demo.newest()}
    lines = blocks()[0].splitlines()
    assert len(lines) == 12
    for head, reason in zip(lines[::2], lines[1::2], strict=True):
        state, number, workflow, customer = re.split(r"\s{2,}", head)
        job = listed[state.upper(), number]
        assert (job.workflow, job.customer) == (workflow, customer)
        assert job.reason.startswith(reason.strip().removesuffix("..."))


def test_the_report_stands_as_it_is_written(demo):
    report = (demo.site.held / "liquid-plate/1044/report.txt").read_text()
    rest = iter(report.splitlines())
    for line in filter(None, blocks()[1].splitlines()):
        assert line in rest, f"not in the report, or not in this order: {line!r}"


def test_every_file_and_folder_that_it_links_to_is_there():
    for target in re.findall(r"\]\(([^)]+)\)", README):
        assert (Path(__file__).parents[2] / target).exists(), target
