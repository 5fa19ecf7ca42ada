"""The straight stick as drawn on a page: every number that is on it can be read."""

import re

import pytest

from soapstone.bench.files import starter_bench
from soapstone.flow.planning import plan
from soapstone.job.files import job_from_text
from soapstone.quantities import format_fine
from soapstone.sheets.words import Numbers
from soapstone.web.stick import NARROW, WIDE, stick_svg

AWNING = """
format = 1
units = "in"
[[tube]]
name = "awning rail"
tubing = "304 3/4 x .065"
die = "3/4 on 2 1/4"
points = [[0, 0, 0], [0, 0, 20.5], [18, 0, 32], [36, 10.25, 32], [50, 10.25, 20], [66, 0, 20],
          [82, -12, 30], [98, -12, 44], [116, 0, 44], [140, 6, 40.125]]
"""


@pytest.mark.parametrize("width", [WIDE, NARROW])
def test_the_numbers_of_eight_marks_in_inches_lie_beside_and_over_each_other(width):
    tube = plan(job_from_text(AWNING), starter_bench("in")).planned[0]
    drawn = stick_svg(tube, Numbers("in", tube.setup.tape, tube.setup.dial_step), width)
    found = re.findall(r'class="value" x="([\d.]+)%" y="([-\d.]+)">([^<]+)<', drawn)
    assert len(found) == 8
    # the letters are 17 px high: narrower than 8 px each, the mean of digits and fraction marks
    boxes = [
        (float(x) * width / 100 - 4 * len(text), float(x) * width / 100 + 4 * len(text), float(y))
        for x, y, text in found
    ]
    for i, (left, right, y) in enumerate(boxes):
        for other_left, other_right, other_y in boxes[:i]:
            apart = right <= other_left or other_right <= left
            assert apart or abs(y - other_y) >= 17


def test_nothing_at_all_is_a_plain_nought_in_both_units():
    assert (format_fine(0, "in"), format_fine(0, "mm")) == ('0"', "0 mm")
