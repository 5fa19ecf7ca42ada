"""In which order each tube of a job is bent: as asked, as its file says, or as comes out best."""

from collections.abc import Mapping, Sequence

import numpy as np

from soapstone.bench.setup import Setup
from soapstone.faults import Fault, refuse_faults
from soapstone.job.model import Job, Tube
from soapstone.plan.order import Order, Turn, check_order, in_turn, simplest_order
from soapstone.plan.stock import stock_of
from soapstone.shape.model import Shape


def orders_for(
    job: Job, shaped: Sequence[tuple[Shape, Setup]], asked: Mapping[str, Order]
) -> list[Order | None]:
    """Give each tube of a job its order, in the job's order; None where it has no shape.

    `asked` goes before what the file says, by tube name. A mirror image is bent in the order of
    the tube it mirrors, unless it has its own.

    Raises
    ------
    InputError
        One line with every tube of the file whose order is not one of its bends.
    """
    faults: list[Fault] = []
    orders: list[Order | None] = []
    for tube, (shape, setup) in zip(job.tubes, shaped, strict=True):
        if shape.line is None:
            orders.append(None)
            continue
        count = len(shape.line.angles)
        source, wish = _asked_by(job, tube, asked)
        if isinstance(wish, tuple):
            check_order(wish, count)
            orders.append(wish)
        elif fault := _fault(source, wish, count):
            faults.append(fault)
        else:
            orders.append(_written(wish, count) or _simplest(shape, setup))
    if faults:
        raise refuse_faults(job.where, faults)
    return orders


def is_fixed(job: Job, tube: Tube, asked: Mapping[str, Order]) -> bool:
    """Whether a tube's order is asked for, or fixed by its file, there or in what it mirrors."""
    wish = _asked_by(job, tube, asked)[1]
    return isinstance(wish, tuple) or bool(wish.order or wish.lead)


def _asked_by(job: Job, tube: Tube, asked: Mapping[str, Order]) -> tuple[str, Order | Tube]:
    """Give the tube that has an order, this one or the one it mirrors, and the order or wish."""
    while True:
        if tube.name in asked:
            return tube.name, asked[tube.name]
        if tube.order or tube.lead or tube.mirror is None:
            return tube.name, tube
        tube = job.tube(tube.mirror.of)


def _fault(name: str, tube: Tube, count: int) -> Fault | None:
    """Say what is wrong with a tube's order and leads, now that its bends can be counted."""
    bends = f"the {count} bends" if count != 1 else "the one bend"
    if not count and (tube.order or isinstance(tube.lead, tuple)):
        key = "order" if tube.order else "lead"
        return Fault(f'tube "{name}".{key}', f"expected no {key}, the tube has no bends")
    if tube.order:
        missing = sorted(set(range(1, count + 1)) - set(tube.order))
        extra = [n for n in tube.order if n > count]
        if extra:
            what = f"expected {bends} of this tube, each once; there is no bend {extra[0]}"
            return Fault(f'tube "{name}".order', what)
        if missing:
            listed = ", ".join(map(str, missing))
            what = f"expected {bends} of this tube, each once; missing {listed}"
            return Fault(f'tube "{name}".order', what)
    if isinstance(tube.lead, tuple) and len(tube.lead) != count:
        what = f"expected an end for each of {bends}, in the order made; found {len(tube.lead)}"
        return Fault(f'tube "{name}".lead', what)
    return None


def _written(tube: Tube, count: int) -> Order | None:
    """Give the order that the file fixes; with one lead end and no order it is in turn from it."""
    if not tube.order and not tube.lead:
        return None
    lead = tube.lead or "A"
    if isinstance(lead, str) and not tube.order:
        return in_turn(count, lead)
    numbers = tube.order or range(1, count + 1)
    leads = lead if isinstance(lead, tuple) else (lead,) * count
    return tuple(Turn(n, end) for n, end in zip(numbers, leads, strict=True))


def _simplest(shape: Shape, setup: Setup) -> Order | None:
    if shape.line is None or not shape.line.angles:
        return None
    arcs = stock_of(setup.calibration.loaded(np.array(shape.line.angles)), setup)
    return simplest_order(shape.line.legs, arcs.tolist(), setup.clamp, setup.follower)
