"""Doubts about trial bends: one that does not fit the others, a lot that bends otherwise."""

from collections.abc import Sequence

import numpy as np

from soapstone.bench.calibrate import Calibration, Prior, fit, trial_arrays
from soapstone.bench.normal import chance_under
from soapstone.bench.trials_csv import Trials
from soapstone.findings import Finding
from soapstone.geometry.vectors import Array

ODD_ONE = 0.02  # chance of a false alarm among all the bends of one calibration
ODD_LOT = 0.01  # chance of a false alarm about a lot
FEW = 3  # with fewer bends the scatter is a guess
MANY = 60  # of more bends than these only the farthest off are foretold from the others
COARSE = 1.5  # degrees of scatter that speak of slip or of a misread dial
STEEP = 0.25  # springback that no usual tube has on a usual die
NARROW = 10.0  # degrees between least and greatest angle that tell springback from dial zero


def outliers(
    dials: Sequence[float] | Array,
    angles: Sequence[float] | Array,
    prior: Prior,
    rows: Sequence[int] = (),
    where: str = "trials",
) -> list[Finding]:
    """Name the bends that the other bends make hard to believe.

    Each bend is foretold from all the others; one whose reading falls in the outermost share of
    what was foretold is named. The share is divided by the number of bends, so that a sound set is
    left alone 98 times in 100.

    Parameters
    ----------
    dials, angles
        Reading and finished angle of each bend, degrees, (trials,).
    prior
        What was believed before the bends.
    rows
        Row of each bend in its file; without them bends are counted from 1.
    where
        The file, for the findings.
    """
    read, bent = trial_arrays(dials, angles)
    found = []
    for index in _farthest(read, bent, prior):
        others = np.arange(read.size) != index
        rest = fit(read[others], bent[others], prior)
        below = rest.overshoot(read[index], bent[index])
        if 2.0 * min(below, 1.0 - below) * read.size < ODD_ONE:
            place = f"{where}, row {rows[index]}" if len(rows) else f"{where}, trial {index + 1}"
            off = read[index] - rest.dial(bent[index])
            what = (
                f"dial {read[index]:g}° for {bent[index]:g}° is {abs(off):.1f}° "
                f"{'more' if off > 0 else 'less'} than the other bends say"
            )
            found.append(Finding("warn", place, what, "measure it again, or leave it out"))
    return found


def _farthest(read: Array, bent: Array, prior: Prior) -> list[int]:
    """Which bends to look at: all of a few; of many those farthest off, as no other can be odd."""
    if read.size <= MANY:
        return list(range(read.size))
    known = fit(read, bent, prior)
    off = np.abs(read - known.dial(bent))
    return sorted(np.argsort(-off, kind="stable")[:MANY].tolist())


def lot_change(
    older: Calibration, dials: Sequence[float] | Array, angles: Sequence[float] | Array, where: str
) -> Finding | None:
    """Say when bends of a new lot do not agree with what the older lots foretell.

    What is tested is the springback, common to the lot, that would carry the older line onto the
    new bends; its foretold spread holds the older calibration's own doubt and the new bends'
    scatter.

    Parameters
    ----------
    older
        Calibration from the lots before.
    dials, angles
        Reading and finished angle of the new lot's bends, degrees, (trials,).
    where
        The new lot, for the finding.

    Returns
    -------
    Finding or None
        None while the lot can be taken for the same: the chance of a false alarm is 1 %.
    """
    read, bent = trial_arrays(dials, angles)
    if read.size == 0:
        return None
    share = bent / (bent @ bent)
    line, sigma = older.belief.line, older.belief.sigma
    change = (read - bent - line.excess(bent)) @ share
    total, moment = share.sum(), share @ (bent - line.centre)
    doubt = total**2 * line.var_level + 2 * total * moment * line.covariance
    doubt = doubt + moment**2 * line.var_slope + sigma**2 * (share @ share)
    below = float(older.belief.weight @ chance_under(change / np.sqrt(doubt)))
    chance = 2.0 * min(below, 1.0 - below)
    if chance >= ODD_LOT:
        return None
    shift = 90.0 * float(older.belief.weight @ change)
    rarely = f"{1 / max(chance, 1e-4):.0f}"
    return Finding(
        "warn",
        where,
        f"springs back {abs(shift):.1f}° {'more' if shift > 0 else 'less'} at 90° than the lots "
        f"before (were it the same, so much would come by chance once in {rarely})",
        "only bends since then count; make more of this lot",
    )


def since_last_change(trials: Trials, prior: Prior) -> tuple[Trials, list[Finding]]:
    """Keep the bends that speak of the newest lot, and tell of every lot that bent otherwise.

    Lots are taken in the order in which they first appear. Each is held against the lots since
    the last change; while it agrees it joins them, and where it does not only it is kept.
    """
    lots = list(dict.fromkeys(trials.lots))
    alike: list[str] = lots[:1]
    found = []
    for lot in lots[1:]:
        before = trials.of_lots(alike)
        older = fit(before.dials, before.angles, prior)
        newer = trials.of_lots([lot])
        name = f"lot {lot}" if lot else "bends without a lot"
        finding = lot_change(older, *newer.arrays, f"{trials.source}, {name}".lstrip(", "))
        if finding:
            found.append(finding)
        alike = [lot] if finding else [*alike, lot]
    return trials.of_lots(alike), found


def learn(trials: Trials, prior: Prior) -> tuple[Calibration, list[Finding]]:
    """Fit the trial bends that speak of the newest lot, and say what is doubtful about it all."""
    return learn_from(*since_last_change(trials, prior), prior)


def learn_from(
    kept: Trials, changed: Sequence[Finding], prior: Prior
) -> tuple[Calibration, list[Finding]]:
    """Fit bends that `since_last_change` kept; `changed` is what it told of the lots."""
    calibration = fit(kept.dials, kept.angles, prior)
    odd = outliers(kept.dials, kept.angles, prior, kept.rows, kept.source)
    return calibration, [*changed, *odd, *doubts(calibration, kept.angles, kept.source)]


def doubts(calibration: Calibration, angles: Sequence[float] | Array, where: str) -> list[Finding]:
    """Say what a user of the calibration should know: few bends, angles too alike, odd results."""
    bent = np.asarray(angles, dtype=float)
    found = []
    if calibration.trials < FEW:
        many = {0: "no trial bend stands", 1: "one trial bend stands"}
        count = many.get(calibration.trials, f"{calibration.trials} trial bends stand")
        what, mend = f"{count} behind it: mostly a guess", "make a few more, small angle to large"
        found.append(Finding("note", where, what, mend))
    elif float(np.ptp(bent)) < NARROW:
        what = f"all the trial bends are near {bent.mean():.0f}°: for other angles it is a guess"
        found.append(Finding("note", where, what, "add bends at other angles"))
    if calibration.springback < -0.01:
        what = f"the springback comes out at {calibration.springback:.3f}, but tubes never close up"
        found.append(Finding("warn", where, what, "see whether dial and angle are exchanged"))
    if calibration.springback > STEEP:
        what = f"the springback comes out at {calibration.springback:.3f}, far more than tube has"
        found.append(Finding("warn", where, what, "see how dial and angle were read"))
    if calibration.trials >= FEW and calibration.sigma > COARSE:
        what = f"bends at one reading differ by {calibration.sigma:.1f}° (one standard deviation)"
        found.append(Finding("warn", where, what, "look for slip in the clamp or play in the dial"))
    return found
