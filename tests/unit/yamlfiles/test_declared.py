"""What a site may declare of foreign files."""

import pytest
from pydantic_core import PydanticCustomError

from gatekeeper.yamlfiles.declared import code_page_of, date_format_of


@pytest.mark.parametrize("name", ["windows-1252", "cp850", "latin1", "utf-8"])
def test_code_page_of_text_is_taken(name):
    assert code_page_of(name) == name


@pytest.mark.parametrize("name", ["windows-9999", "base64", "rot13", "utf-16", ""])
def test_what_is_no_code_page_is_refused(name):
    with pytest.raises(PydanticCustomError, match="is no code page"):
        code_page_of(name)


@pytest.mark.parametrize("pattern", ["%d/%m/%Y", "%d.%m.%y %H:%M", "%j %Y", "%b %d, %Y"])
def test_pattern_that_tells_a_day_is_taken(pattern):
    assert date_format_of(pattern) == pattern


@pytest.mark.parametrize("pattern", ["%H:%M", "%d/%m", "%Y", "%Q", "%", "today"])
def test_pattern_that_tells_no_day_is_refused(pattern):
    with pytest.raises(PydanticCustomError, match=r"date format|whole day"):
        date_format_of(pattern)
