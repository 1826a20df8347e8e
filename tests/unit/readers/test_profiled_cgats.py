import pytest
from meter_files import CGATS, CGATS_PROFILE, site
from reading import only, problems, read

from gatekeeper.errors import UnreadableSheetError


def test_cgats_text_gives_a_transmittance_where_a_profile_says_so():
    with pytest.raises(UnreadableSheetError, match="no table in it holds readings"):
        read(CGATS, "a.it8")
    sheet = read(CGATS, "a.it8", site(CGATS_PROFILE))
    negative = only(sheet)
    assert problems(sheet) == []
    assert sheet.notes == ()
    assert (negative.job.value, negative.filter.value) == ("1041", "visual")
    assert [
        (patch.kind, patch.name, patch.transmittance_percent.value) for patch in negative.patches
    ] == [("clear", "A1", 99.5), ("solid", "A2", 0.12), ("tint", "A3", 51.0)]


def test_a_cgats_text_that_is_cut_is_a_problem_through_a_profile_too():
    sheet = read(CGATS.replace("END_DATA\n", ""), "a.it8", site(CGATS_PROFILE))
    assert any("END_DATA is missing" in problem for problem in problems(sheet))
