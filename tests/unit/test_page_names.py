"""Where pages lie, and that links reach them, whatever a job is called."""

from pathlib import PurePath, PurePosixPath
from urllib.parse import unquote

from hypothesis import given
from hypothesis import strategies as st

from gatekeeper.filing.names import folder_name
from gatekeeper.screens.page_names import folder_of, job_href, job_path, path_of, workflow_href


def test_pages_are_called_like_their_folders():
    folder = PurePath("/a/site/held/liquid-plate/1041")
    assert str(job_path(folder)) == "jobs/liquid-plate/1041.html"
    assert str(job_path(PurePath("approved/unsorted/1.5"))) == "jobs/unsorted/1.5.html"
    assert workflow_href("liquid plate") == "workflows/liquid%20plate.html"


@given(st.text(min_size=1), st.text(min_size=1))
def test_a_link_leads_to_the_page_and_to_the_jobs_folder(workflow, job):
    folder = PurePath("held", folder_name(workflow), folder_name(job))
    href = job_href(folder)
    assert href.isascii()
    assert not set(href) & set("\"'<>#? ")
    path = path_of(href)
    assert path == job_path(folder)
    assert ".." not in path.parts
    assert not path.is_absolute()
    assert folder_of(href) == PurePosixPath(folder_name(workflow), folder_name(job))
    assert len(path.name.encode("utf-8", "surrogateescape")) <= 255
    assert unquote(href).endswith(".html")
