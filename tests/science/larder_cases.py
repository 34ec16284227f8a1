"""Small random order problems, and two ways to cost them that share nothing with the programme's own."""

from __future__ import annotations

import itertools
import math

import numpy as np

from nightround.science.larder.growth import Profiles
from nightround.science.larder.problem import OrderProblem, Pack

STAYS = (0.5, 0.8, 1.0)
FITS = (0.0, 0.0, 0.4, 0.6, 1.0)


def random_rows(rng: np.random.Generator, starts: list[int], weeks: int, classes: int) -> Profiles:
    """Invented lots that are there from a week on, with any course of size, deaths and outgrowing."""
    rows = len(starts)
    arrives = np.zeros((rows, weeks))
    for row, start in enumerate(starts):
        if start < weeks:
            arrives[row, start] = 1.0
    stays = rng.choice(STAYS, (rows, weeks))
    dies = rng.random((rows, weeks)) * (1.0 - stays)
    fits = np.zeros((rows, weeks, classes))
    for row, week in itertools.product(range(rows), range(weeks)):
        share = rng.choice(FITS, classes)
        fits[row, week] = share / max(float(share.sum()), 1.0)
    none = np.zeros(rows, dtype=np.int64)
    flat = np.ones((rows, weeks))
    return Profiles(arrives, stays, dies, 1.0 - stays - dies, fits, flat, flat, none, none, none.astype(bool))


def random_problem(seed: int, *, deliveries: bool = False) -> OrderProblem:
    """One to three weeks, one or two classes, up to two lots, one or two packs, one to three courses."""
    rng = np.random.default_rng(seed)
    weeks, classes, courses = int(rng.integers(1, 4)), int(rng.integers(1, 3)), int(rng.integers(1, 4))
    lots, offers = int(rng.integers(0, 3)), int(rng.integers(1, 3))
    # At most four possible deliveries, so that every order can be tried.
    can = rng.permuted(np.arange(offers * weeks)).reshape(offers, weeks) < 4
    packs = tuple(
        Pack(
            float(rng.integers(1, 8)), float(rng.integers(1, 9)) / 2.0, can[offer],
            random_rows(rng, list(range(weeks)), weeks, classes), supplier=0, most=2,
        )
        for offer in range(offers)
    )  # fmt: skip
    per_one = np.full((classes, classes), np.inf)
    np.fill_diagonal(per_one, 1.0)
    if classes == 2 and rng.random() < 0.6:
        per_one[0, 1], per_one[1, 0] = float(rng.integers(2, 4)), float(rng.choice([0.5, 1.0]))
    return OrderProblem(
        demand=rng.integers(0, 9, (courses, weeks, classes)).astype(np.float64),
        stock=random_rows(rng, [0] * lots, weeks, classes),
        stock_animals=rng.integers(0, 8, lots).astype(np.float64),
        packs=packs, per_one=per_one,
        instead_price=0.1 * (1.0 - np.eye(classes)),
        shortage_price=rng.uniform(0.2, 3.0, classes),
        waste_price=float(rng.choice([0.0, 0.05, 0.2])),
        keep_price=float(rng.choice([0.0, 0.03])),
        delivery_price=np.array([float(rng.integers(1, 5)) if deliveries else 0.0]),
    )  # fmt: skip


def every_order(problem: OrderProblem) -> itertools.product[tuple[int, ...]]:
    """Every number of packs at every week they can arrive: one number each, pack after pack."""
    slots = [
        (number, week)
        for number, pack in enumerate(problem.packs)
        for week in np.flatnonzero(pack.can_arrive).tolist()
    ]
    return itertools.product(*[range(problem.packs[number].most + 1) for number, _ in slots])


def order_table(problem: OrderProblem, numbers: tuple[int, ...]) -> np.ndarray:
    """The numbers of `every_order` as packs [O, W]."""
    out = np.zeros((len(problem.packs), problem.weeks), dtype=np.int64)
    rest = iter(numbers)
    for number, pack in enumerate(problem.packs):
        for week in np.flatnonzero(pack.can_arrive).tolist():
            out[number, week] = next(rest)
    return out


def cost_of(problem: OrderProblem, packs: np.ndarray) -> float:
    """Least cost with these packs: use of every feeder by linear programming, every term written out.

    Missing and over are unknowns of their own for each course; deaths and outgrown are charged week by week
    to the end. Only the packs are given, so nothing is shared with the programme under test.
    """
    from scipy.optimize import linprog

    courses, weeks, classes = problem.demand.shape
    bodies = [(problem.stock, row, float(n)) for row, n in enumerate(problem.stock_animals)]
    bodies += [
        (problem.packs[number].profiles, week, float(packs[number, week] * problem.packs[number].animals))
        for number, week in np.argwhere(packs > 0)
    ]
    use = list(itertools.product(range(len(bodies)), range(weeks), range(classes), range(classes)))
    use = [u for u in use if math.isfinite(problem.per_one[u[2], u[3]])]
    gap = list(itertools.product(range(courses), range(weeks), range(classes)))
    size = len(use) + 2 * len(gap)
    cost, rows, limits, fixed, right = np.zeros(size), [], [], [], []
    for column, (_, _, given, want) in enumerate(use):
        cost[column] = problem.instead_price[given, want]
    constant = 0.0
    for body, (profiles, row, animals) in enumerate(bodies):
        # held[w] = sum of what came and survived, less what was eaten and would have survived.
        held, constants = np.zeros((weeks, size)), np.zeros(weeks)
        left, left_constant = np.zeros(size), 0.0
        for week in range(weeks):
            if week:
                stay = float(profiles.stays[row, week - 1])
                held[week], constants[week] = stay * left, stay * left_constant
            constants[week] += profiles.arrives[row, week] * animals
            eaten = np.zeros(size)
            for given in range(classes):
                of_size = np.zeros(size)
                for column, (other, at, a, want) in enumerate(use):
                    if (other, at, a) == (body, week, given):
                        of_size[column] = problem.per_one[a, want]
                share = profiles.fits[row, week, given]
                rows.append(of_size - share * held[week])
                limits.append(share * constants[week])
                eaten += of_size
            left, left_constant = held[week] - eaten, constants[week]
            rows.append(-left)
            limits.append(left_constant)
            lost = problem.waste_price * (1.0 - profiles.stays[row, week]) + problem.keep_price
            cost += lost * left
            constant += lost * left_constant
    for number, (course, week, want) in enumerate(gap):
        line = np.zeros(size)
        for column, (_, at, _, wanted) in enumerate(use):
            line[column] = float((at, wanted) == (week, want))
        most = float(problem.demand[:, week, want].max())
        rows.append(line.copy())
        limits.append(most)
        missing, over = len(use) + 2 * number, len(use) + 2 * number + 1
        line[missing], line[over] = 1.0, -1.0
        fixed.append(line)
        right.append(problem.demand[course, week, want])
        cost[missing] = problem.shortage_price[want] / courses
        cost[over] = problem.waste_price / courses
    found = linprog(cost, np.array(rows), limits, np.array(fixed), right, bounds=(0, None), method="highs-ds")
    assert found.status == 0, found.message
    price = sum(float(pack.price) * int(packs[number].sum()) for number, pack in enumerate(problem.packs))
    return (
        float(found.fun)
        + constant
        + price
        + float(problem.delivery_price[0]) * int((packs.sum(axis=0) > 0).sum())
    )


def cheapest(problem: OrderProblem) -> float:
    """The cost of the best of all orders, one after the other."""
    return min(cost_of(problem, order_table(problem, numbers)) for numbers in every_order(problem))
