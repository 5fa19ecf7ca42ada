"""All hands of a tube: who they are, and what the tube must clear for their sake."""

import numpy as np

from soapstone.fit.hands import all_hands_keepouts, hands_of
from soapstone.job.files import job_from_text

LEGS = """
units = "mm"
[[keepout]]
name = "post"
ball = { at = [-300, -200, 50], diameter = 80 }
gap = 10
[[tube]]
name = "leg"
points = [[300, 200, 0], [300, 200, 500]]
tubing = "304 38.1x1.65"
[[tube]]
name = "across"
tubing = "304 38.1x1.65"
mirror = { of = "leg", across = "xz" }
[[tube]]
name = "across and behind"
tubing = "304 38.1x1.65"
mirror = { of = "across", across = "yz" }
"""


def test_an_image_of_an_image_is_a_hand_and_what_stands_by_it_counts():
    job = job_from_text(LEGS)
    hands = hands_of(job, "leg")
    assert [hand.tube.name for hand in hands] == ["leg", "across", "across and behind"]
    matrix, shift = hands[2].move
    assert np.allclose(matrix @ np.array([300.0, 200.0, 50.0]) + shift, [-300.0, -200.0, 50.0])
    keepouts = all_hands_keepouts(job, "leg", {}, (300.0, 200.0, 0.0))
    places = [tuple(np.round(one.solid.at, 9)) for one in keepouts]
    assert (300.0, 200.0, 50.0) in places, "the post by the last hand, brought back to the tube"
