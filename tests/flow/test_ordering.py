"""Which order a job's tubes are bent in: as asked, as the file says, else the simplest."""

import pytest

from soapstone.errors import InputError
from soapstone.flow import plan_job
from soapstone.flow.planning import plan
from soapstone.job.files import bench_of, read_job
from soapstone.plan.order import Turn

BENCH = """
format = 1
units = "mm"
[bender]
name = "invented"
plane = "horizontal"
swing = "left"
die_height = 900
[[die]]
name = "d"
od = 25.4
clr = 90
clamp = 60
follower = 40
springback = 0.02
[[tubing]]
name = "t"
od = 25.4
wall = 1.65
material = "304"
sticks = [6000]
"""
HEAD = 'format = 1\nname = "j"\nunits = "mm"\nbench = "bench.toml"\n'
EASY = "bends = { legs = [300, 200, 250, 300], angles = [90, 45, 30], rotations = [0, 90, 20] }\n"
SHORT = "bends = { legs = [300, 50, 300], angles = [90, 90], rotations = [0, 90] }\n"


def tube(name: str, shape: str, more: str = "") -> str:
    return f'[[tube]]\nname = "{name}"\ntubing = "t"\ndie = "d"\n{more}\n{shape}'


@pytest.fixture
def job(tmp_path):
    def write(*tubes: str):
        (tmp_path / "bench.toml").write_text(BENCH)
        file = tmp_path / "job.toml"
        file.write_text(HEAD + "".join(tubes))
        return file

    return write


def orders(planned) -> list[str]:
    return [" ".join(f"{b.n}{b.lead}" for b in tube.bends) for tube in planned.tubes]


@pytest.mark.parametrize(
    ("more", "order"),
    [
        ("", "1A 2A 3A"),
        ('lead = "B"', "3B 2B 1B"),
        ("order = [2, 1, 3]", "2A 1A 3A"),
        ('order = [2, 1, 3]\nlead = "B"', "2B 1B 3B"),
        ('order = [2, 1, 3]\nlead = ["A", "B", "A"]', "2A 1B 3A"),
        ('lead = ["A", "A", "B"]', "1A 2A 3B"),
    ],
)
def test_the_file_fixes_order_and_lead_end(job, more, order):
    assert orders(plan_job(job(tube("a", EASY, more)))) == [order]


def test_left_out_the_order_is_the_simplest_that_finds_straight(job):
    file = job(tube("a", EASY), tube("b", SHORT))
    assert orders(plan_job(file)) == ["1A 2A 3A", "2A 1A"]
    assert plan_job(file).sound


def test_a_fixed_order_that_finds_too_little_straight_stops_and_is_not_changed(job):
    planned = plan_job(job(tube("a", SHORT, "order = [1, 2]")))
    assert orders(planned) == ["1A 2A"]
    (stop,) = [p for p in planned.tubes[0].problems if p.severity == "stop"]
    assert str(stop) == (
        "a, bend 2: 50 mm of straight ahead of it, up to bend 1, and the clamp needs 60 mm: "
        "10 mm missing; make the bends in the order 2, 1 with the A end leading"
    )


def test_a_mirror_image_goes_by_the_order_of_its_tube_unless_it_has_its_own(job):
    image = '[[tube]]\nname = "i"\n{}mirror = {{ of = "a", across = "xz" }}\n'
    first = tube("a", EASY, "order = [3, 1, 2]")
    assert orders(plan_job(job(first, image.format("")))) == ["3A 1A 2A"] * 2
    assert orders(plan_job(job(first, image.format('lead = "B"\n')))) == ["3A 1A 2A", "3B 2B 1B"]
    assert orders(plan_job(job(tube("a", SHORT), image.format("")))) == ["2A 1A"] * 2


def test_what_is_asked_goes_before_what_the_file_says(job):
    read = read_job(job(tube("a", EASY, "order = [3, 1, 2]"), tube("b", EASY)))
    asked = {"a": (Turn(2, "B"), Turn(1, "A"), Turn(3, "A"))}
    assert orders(plan(read, bench_of(read), asked)) == ["2B 1A 3A", "1A 2A 3A"]


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (
            "order = [2, 1]",
            'tube "a".order: expected the 3 bends of this tube, each once; missing 3',
        ),
        ("order = [2, 1, 4]", "each once; there is no bend 4"),
        (
            'lead = ["A"]',
            'tube "a".lead: expected an end for each of the 3 bends, in the order made',
        ),
    ],
)
def test_an_order_that_is_not_the_tubes_is_one_line(job, more, said):
    with pytest.raises(InputError) as refused:
        plan_job(job(tube("a", EASY, more)))
    line = str(refused.value)
    assert said in line
    assert line.isprintable()
    assert "job.toml" in line


def test_all_wrong_orders_are_told_at_once(job):
    file = job(
        tube("a", EASY, "order = [2, 1]"),
        tube("b", SHORT, "order = [3]"),
        tube("c", "points = [[0, 0, 0], [500, 0, 0]]\n", "order = [1]"),
        tube("d", "points = [[0, 0, 0], [500, 0, 0]]\n", 'lead = ["A"]'),
    )
    with pytest.raises(InputError) as refused:
        plan_job(file)
    for name in ("a", "b", "c"):
        assert f'tube "{name}".order' in str(refused.value)
    assert 'tube "d".lead: expected no lead, the tube has no bends' in str(refused.value)


def test_a_straight_tube_may_say_which_end_leads(job):
    assert orders(
        plan_job(job(tube("a", "points = [[0, 0, 0], [500, 0, 0]]\n", 'lead = "B"')))
    ) == [""]
