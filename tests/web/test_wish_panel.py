"""What is typed into a wish for a route."""

import pytest

from soapstone.flow.routing import MOST_BENDS
from soapstone.web.panels.wish_panel import bends_typed, seconds_typed


def test_a_number_of_bends_is_read():
    assert bends_typed(f" {MOST_BENDS} ") == MOST_BENDS


@pytest.mark.parametrize("typed", ["", "-1", "2.5", "many", "²", str(MOST_BENDS + 1), "9" * 5000])
def test_what_is_no_number_of_bends_is_told(typed):
    with pytest.raises(ValueError, match=f"at most {MOST_BENDS}"):
        bends_typed(typed)


@pytest.mark.parametrize("typed", ["0", "nan", "inf", "601", "soon", "-3"])
def test_what_is_no_time_to_search_is_told(typed):
    with pytest.raises(ValueError, match="seconds above 0"):
        seconds_typed(typed)
