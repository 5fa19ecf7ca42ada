"""Which tubes share a sheet."""

from dataclasses import replace

from soapstone.findings import Finding
from soapstone.sheets.hands import BOTH, own_findings, pair_hands
from tests.setups import setup
from tests.sheets.packs import line, named, pair, planned


def test_a_mirror_image_joins_its_tube_wherever_it_stands():
    port, starboard = pair()
    other = planned([named("hoop", line([300, 300], [90], [0], 100))], setup())[0]
    for tubes in ([port, other, starboard], [starboard, other, port]):
        pairs = pair_hands(tubes)
        assert [(h.first.name, h.second and h.second.name) for h in pairs] in (
            [("port leg", "starboard leg"), ("hoop", None)],
            [("port leg", "starboard leg"), ("hoop", None)],
        )


def test_tubes_that_differ_in_more_than_the_way_of_their_rolls_do_not():
    port, starboard = pair()
    step = replace(starboard.bends[1], mark=starboard.bends[1].mark + 1)
    changed = replace(starboard, bends=(starboard.bends[0], step, starboard.bends[2]))
    assert [h.second for h in pair_hands([port, changed])] == [None, None]
    unrelated = replace(starboard, of="")
    assert [h.second for h in pair_hands([port, unrelated])] == [None, None]


def test_a_tube_is_in_one_pair_only():
    port, starboard = pair()
    third = replace(starboard, name="spare")
    pairs = pair_hands([port, starboard, third])
    assert [len(h.plans) for h in pairs] == [2, 1]


def test_what_is_said_of_both_hands_is_said_once():
    port, starboard = pair()
    port = replace(port, problems=(Finding("warn", "port leg, bend 1", "tight", "mind"),))
    own = Finding("note", "starboard leg", "only here")
    same = Finding("warn", "starboard leg, bend 1", "tight", "mind")
    starboard = replace(starboard, problems=(same, own))
    found = own_findings(pair_hands([port, starboard])[0])
    assert [f.where for f in found] == [f"port leg, bend 1{BOTH}", "starboard leg"]
