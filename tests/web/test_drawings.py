"""What pages draw: the dots where the trials are, the frame as it gives, sticks to their scale."""

import re
import shutil
from importlib.resources import files

import numpy as np
import pytest

from soapstone.bench.calibrate import fit, weak_prior
from soapstone.flow import plan_job
from soapstone.flow.sawing import Wanted, saw_jobs
from soapstone.flow.showing import TrialBend
from soapstone.flow.strength import strength_of
from soapstone.web.bent_frame import VIEWS, enlarged, frame_drawing, seen_from, shade
from soapstone.web.chart import round_axis
from soapstone.web.sawn_stick import sawn_svg
from soapstone.web.springback import knowledge_words, springback_svg


@pytest.fixture(scope="module")
def arch(tmp_path_factory):
    folder = tmp_path_factory.mktemp("drawn")
    for name in ("bench.toml", "trials-38.csv", "stern-arch.toml"):
        shutil.copy(files("soapstone.demo") / name, folder / name)
    return plan_job(folder / "stern-arch.toml")


@pytest.mark.parametrize(
    "values", [(0, 4.2), (-0.3, 0.2), (5, 5), (0, 0), (1e-4, 3e-4), (-90, 700)]
)
def test_an_axis_holds_its_values_between_round_numbers(values):
    axis = round_axis(values, "")
    assert axis.low <= min(values)
    assert axis.high >= max(values)
    assert axis.low < axis.high
    assert 2 <= len(axis.ticks) <= 9
    assert [float(text) for _, text in axis.ticks] == pytest.approx([at for at, _ in axis.ticks])


def test_trials_are_dots_at_their_places_and_old_ones_are_told_apart():
    bends = (TrialBend(31.0, 30.0, "a", False), TrialBend(93.0, 90.0, "b", True))
    known = fit([93.0], [90.0], weak_prior())
    drawn = springback_svg(known, bends, 90.0, 120.0)
    dots = re.findall(r'class="(dot[^"]*)" cx="([\d.]+)%" cy="(-?[\d.]+)"', drawn)
    assert [kind for kind, *_ in dots] == ["dot old", "dot", "dot asked"]
    assert [float(x) for _, x, _ in dots] == pytest.approx([25, 75, 75], abs=0.01)
    assert float(dots[0][2]) > float(dots[1][2]), "3 degrees further stands above 1"
    assert "as one trial bend has it" in knowledge_words(known, 90.0)


def test_the_picture_of_the_frame_holds_all_of_it_and_says_how_much_it_is_enlarged(arch):
    done = strength_of(arch)
    one = done.cases[0]
    times = enlarged(one)
    for view in VIEWS:
        drawn = frame_drawing(done, one, view, times)
        assert f"drawn {times:g} times too large" in drawn
        places = [float(at) for at in re.findall(r"(?:left|top):(-?[\d.]+)%", drawn)]
        assert len(places) == 2 * (len(one.supports) + 1)
        assert all(0 < at < 100 for at in places)
        low_x, low_y, width, height = map(float, re.search(r'viewBox="([^"]+)"', drawn)[1].split())
        points = re.findall(r"(-?[\d.]+),(-?[\d.]+)", "".join(re.findall('points="[^"]+"', drawn)))
        across, down = np.array(points, dtype=float).T
        assert low_x < across.min()
        assert across.max() < low_x + width
        assert low_y < down.min()
        assert down.max() < low_y + height


def test_ways_to_look_are_square_and_up_is_up():
    for view in VIEWS:
        seen = seen_from(view)
        axes = np.array([seen.right, seen.up, seen.toward])
        assert axes @ axes.T == pytest.approx(np.eye(3), abs=1e-12)
        assert view == "from above" or seen.up[2] > 0


def test_the_hotter_the_nearer_to_yield():
    assert "--cool) 100%" not in shade(0.0)
    assert shade(0.0) == "color-mix(in oklab, var(--warm) 0%, var(--cool))"
    assert shade(1.0) == shade(7.0) == "color-mix(in oklab, var(--hot) 100%, var(--warm))"


def test_a_sawn_stick_is_drawn_to_scale_with_every_cut(arch):
    cut = saw_jobs([Wanted(arch, 1)], 3.0)[0]
    longest = max(one.length for one in cut.sticks)
    for stick in cut.sticks:
        drawn = sawn_svg(stick, cut, longest)
        bars = re.findall(r'class="metal" x="[\d.]+%" y="\d+" width="([\d.]+)%"', drawn)
        widths = [float(width) for width in bars]
        lengths = [length for _, length in stick.pieces]
        assert np.array(widths) / sum(widths) == pytest.approx(
            np.array(lengths) / sum(lengths), abs=1e-4
        )
        assert drawn.count('class="mark"') == sum(mark < stick.length for mark in stick.marks)
