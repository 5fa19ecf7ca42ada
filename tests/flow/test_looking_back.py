"""The log looked back on: none is made where there is none; lots that bend otherwise are told."""

from soapstone.flow.looking_back import look_back
from soapstone.log.store import LoggedTrial, Remnant, Run, open_log
from soapstone.web.drift import drift_svg, drift_words

DIE, TUBING = "38 on 115", "316 38.1x1.65"


def bends(lot, date, springback):
    return [
        LoggedTrial(f"{lot}{angle}", DIE, TUBING, lot, date, angle * (1 + springback) + 1, angle)
        for angle in (20.0, 45.0, 70.0, 90.0, 110.0)
    ]


def test_a_log_that_is_not_there_is_empty_and_stays_away(tmp_path):
    log = look_back(tmp_path / "log.sqlite")
    assert (log.runs, log.trials, log.remnants, log.lots) == ((), (), (), ())
    assert not list(tmp_path.iterdir())


def test_what_was_made_comes_newest_first_and_remnants_longest_first(tmp_path):
    path = tmp_path / "log.sqlite"
    with open_log(path) as store:
        for n, lot in enumerate(("heat 7", "heat 8")):
            date = f"2026-0{n + 1}-02"
            run = Run(f"r{n}", "arch.toml", "leg", lot, f"{date}T10:00:00", "{}")
            store.start(run)
            left = Remnant(f"m{n}", TUBING, lot, date, 300.0 + 100 * n)
            store.confirm(
                run.id, 1, {}, date, ended=n == 0, trials=bends(lot, date, 0.02), remnants=[left]
            )
    log = look_back(path)
    assert [run.lot for run in log.runs] == ["heat 8", "heat 7"]
    assert [run.ended is None for run in log.runs] == [True, False]
    assert log.trials[0].date == "2026-02-02"
    assert [one.length for one in log.remnants] == [400.0, 300.0]
    assert [lot.lot for lot in log.lots] == ["heat 7", "heat 8"]


def test_a_lot_that_springs_back_more_is_told_with_how_much_and_one_alike_is_not(tmp_path):
    with open_log(tmp_path / "log.sqlite") as store:
        for lot, date, springback in (
            ("heat 7", "2026-01-02", 0.02),
            ("heat 8", "2026-02-02", 0.02),
            ("heat 9", "2026-03-02", 0.09),
        ):
            for trial in bends(lot, date, springback):
                store.add_trial(trial)
    lots = look_back(tmp_path / "log.sqlite").lots
    assert "no change" in drift_words(lots[:2])
    said = drift_words(lots)
    told = float(said.split(": ")[1].split("°")[0])
    # 7 % of 90 degrees are 6.3
    assert abs(told - 6.3) < 0.5
    assert "more at 90°" in said
    assert drift_svg(lots).count("<circle") == 3
