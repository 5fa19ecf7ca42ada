"""Keeping labels on a line apart while each stays as near to its place as it can."""

from collections.abc import Sequence


def spread(
    places: Sequence[float], widths: Sequence[float], low: float, high: float
) -> list[float]:
    """Give centres of labels, in order, that neither overlap nor leave `low`..`high`.

    Parameters
    ----------
    places
        Where each label would like its centre, rising.
    widths
        Width of each, the gap to its neighbour included.
    low, high
        What they must stay between; when they are wider than that together, they run over `high`.

    Notes
    -----
    Least squares under order: labels that touch move as one block to the mean of their wishes
    (pool adjacent violators), which is exact.
    """
    offsets, total = [], 0.0
    for width in widths:
        offsets.append(total + width / 2)
        total += width
    wishes = [place - offset for place, offset in zip(places, offsets, strict=True)]
    blocks: list[tuple[float, int]] = []
    for wish in wishes:
        blocks.append((wish, 1))
        while len(blocks) > 1 and blocks[-2][0] >= blocks[-1][0]:
            (a, m), (b, n) = blocks[-2:]
            blocks[-2:] = [((a * m + b * n) / (m + n), m + n)]
    slack = max(high - total, low)
    shifts = [min(max(mean, low), slack) for mean, count in blocks for _ in range(count)]
    return [shift + offset for shift, offset in zip(shifts, offsets, strict=True)]
