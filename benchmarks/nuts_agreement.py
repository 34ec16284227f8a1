"""The moult clock's fit against NUTS on three rooms of 120 animals, and NUTS as the yardstick of its speed.

    pip install numpyro          (the extra `reference` of this project)
    python benchmarks/nuts_agreement.py [--rooms usual few doubtful] [--chains 4] [--warm-up 600]
        [--draws 10000] [--seed 1] [--record tests/science/clock_reference]
    python benchmarks/nuts_agreement.py --yardstick usual --accept 0.8

Prints sampler's health, then by class of quantity how far the fit is off. With --record the room and the
reference numbers are written for `tests/science/test_clock_reference.py`.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import time
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from typing import Any

# One thread: chains follow each other, and the operations are small.
os.environ.setdefault("XLA_FLAGS", "--xla_cpu_multi_thread_eigen=false intra_op_parallelism_threads=1")
sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

import numpy as np

from benchmarks.nuts_rooms import (
    PLANS,
    Gaps,
    Moments,
    ReferenceRoom,
    classes,
    drawn,
    gaps_of,
    load_room,
    odds_of,
    of_fit,
    quantity_names,
    save_room,
)
from nightround.science.clock.fit import ClockFit, fit
from nightround.science.thermal import FloatArray

SITES = ("theta", "gamma", "kappa", "pace")
DENSE = [("unit_theta", "unit_gamma", "centre", "unit_slope")]


@dataclass(frozen=True)
class Sampled:
    """Draws by site [chains, draws, ...], and what they cost."""

    draws: dict[str, FloatArray]
    divergences: int
    steps: float
    compile_s: float
    sampling_s: float
    processor_s: float


def make_sampler(warm_up: int, draws: int, accept: float) -> Any:
    from numpyro.infer import MCMC, NUTS

    from benchmarks import nuts_model

    kernel = NUTS(nuts_model.model, dense_mass=DENSE, target_accept_prob=accept)
    return MCMC(
        kernel,
        num_warmup=warm_up,
        num_samples=draws,
        progress_bar=False,
    )


def sample(room: Any, *, warm_up: int, draws: int, chains: int, seed: int, accept: float) -> Sampled:
    """Run NUTS, chains one after another; the first one's time over that of the others is compilation."""
    import jax

    from benchmarks.nuts_model import Room

    assert isinstance(room, Room)
    found: list[dict[str, FloatArray]] = []
    divergences, steps, spans = 0, 0.0, []
    sampler = make_sampler(warm_up, draws, accept)
    for key in jax.random.split(jax.random.PRNGKey(seed), chains):
        begun, processor = time.perf_counter(), time.process_time()
        sampler.run(key, room, extra_fields=("num_steps", "diverging"))
        held = sampler.get_samples()
        found.append({name: np.asarray(held[name]) for name in SITES})
        spans.append((time.perf_counter() - begun, time.process_time() - processor))
        fields = sampler.get_extra_fields()
        divergences += int(fields["diverging"].sum())
        steps += float(fields["num_steps"].mean()) / chains
        print(
            f"  chain {len(found)}: {spans[-1][0]:.0f} s, {fields['num_steps'].mean():.0f} steps", flush=True
        )
    sampling = sum(span for span, _ in spans[1:]) / max(chains - 1, 1) * chains
    processor_s = sum(used for _, used in spans[1:]) / max(chains - 1, 1) * chains
    stacked = {name: np.stack([part[name] for part in found]) for name in SITES}
    return Sampled(stacked, divergences, steps, spans[0][0] - sampling / chains, sampling, processor_s)


def health(draws: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Effective sample size and split R-hat of every quantity [chains, draws, quantities]."""
    from numpyro.diagnostics import effective_sample_size, split_gelman_rubin

    return np.asarray(effective_sample_size(draws)), np.asarray(split_gelman_rubin(draws))


def reference(room: ReferenceRoom, arguments: argparse.Namespace) -> tuple[Moments, dict[str, Any]]:
    """NUTS moments and odds of a room, with the sampler's health."""
    from benchmarks import nuts_answers, nuts_model

    ready = nuts_model.make_room(room.data, nuts_model.spread_ratio(fit(room.data).mode))
    sampled = sample(
        ready,
        warm_up=arguments.warm_up,
        draws=arguments.draws,
        chains=arguments.chains,
        seed=arguments.seed,
        accept=arguments.accept,
    )
    told = nuts_answers.answers(ready, room, sampled.draws)
    size, spread = health(told["draws"])
    worst = int(size.argmin())
    facts = {
        "versions": {name: version(name) for name in ("numpyro", "jax", "numpy")},
        "seed": arguments.seed,
        "chains": arguments.chains,
        "warm_up": arguments.warm_up,
        "draws": arguments.draws,
        "accept": arguments.accept,
        "worst_effective_size": round(float(size.min())),
        "worst_quantity": quantity_names(ready.design)[worst],
        "worst_r_hat": round(float(spread.max()), 5),
        "divergences": sampled.divergences,
        "steps_a_draw": round(sampled.steps, 1),
        "compile_s": round(sampled.compile_s, 1),
        "sampling_s": round(sampled.sampling_s, 1),
        "sampling_processor_s": round(sampled.processor_s, 1),
    }
    return Moments(told["mean"], told["sd"], told["odds"]), facts


def record(name: str, room: ReferenceRoom, moments: Moments, facts: dict[str, Any], folder: Path) -> None:
    """Write a room and its reference numbers, rounded to what the draws support."""
    folder.mkdir(parents=True, exist_ok=True)
    save_room(room, folder / f"{name}.npz")

    def rounded(values: FloatArray, digits: int) -> list[Any]:
        return np.round(values, digits).tolist()

    held = {
        **{key: value for key, value in facts.items() if not key.endswith("_s")},
        "mean": rounded(moments.mean, 4),
        "sd": rounded(moments.sd, 5),
        "odds": rounded(moments.odds, 4),
    }
    lines = [f" {json.dumps(key)}: {json.dumps(value)}" for key, value in held.items()]
    (folder / f"{name}.json").write_text("{\n" + ",\n".join(lines) + "\n}\n", encoding="utf-8")


def report(name: str, fitted: ClockFit, room: ReferenceRoom, moments: Moments, facts: dict[str, Any]) -> None:
    """Print health and gaps."""
    print(f"\n## {name}: {room.data.intervals.count} intervals of {room.data.animals} animals")
    print(json.dumps(facts))
    ours = of_fit(fitted, room)
    names = quantity_names(fitted.design)
    for label, part in {**classes(fitted.design), "all": slice(None)}.items():
        print(line(label, gaps_of(ours, moments), part, names))
    gap = np.abs(ours.odds - moments.odds)
    near = np.mean(gap <= 0.01)
    print(f"odds, plain Bayes: {gap.size} compared, worst {gap.max():.4f}, within 0.01 {near:.1%}")
    ruled = np.abs(odds_of(fitted, room, plain=False) - ours.odds)
    print(f"the rule on odd intervals moves odds by {ruled.max():.4f} at most, {ruled.mean():.4f} on average")


def line(label: str, gaps: Gaps, part: slice, names: list[str]) -> str:
    """One row of the table: | class | n | means within | worst | sds within | worst |."""
    mean, sd = np.abs(gaps.mean[part]), np.abs(gaps.sd[part])
    return (
        f"| {label} | {mean.size}"
        f" | {np.mean(mean <= 0.05):.0%} | {mean.max():.3f} ({names[part][mean.argmax()]})"
        f" | {np.mean(sd <= 0.05):.0%} | {sd.max():.1%} ({names[part][sd.argmax()]}) |"
    )


def room_of(name: str, arguments: argparse.Namespace) -> ReferenceRoom:
    """A recorded room where there is one to be taken, else one drawn anew."""
    return load_room(arguments.from_record / f"{name}.npz") if arguments.from_record else drawn(name)


def yardstick(name: str, arguments: argparse.Namespace) -> None:
    """Seconds of NUTS to a worst effective size of 400, compiled, against seconds of the fit."""
    from benchmarks import nuts_answers, nuts_model

    room = room_of(name, arguments)
    fit(room.data)
    begun, processor = time.perf_counter(), time.process_time()
    for _ in range(5):
        fitted = fit(room.data)
    ours, ours_processor = (time.perf_counter() - begun) / 5, (time.process_time() - processor) / 5
    ready = nuts_model.make_room(room.data, nuts_model.spread_ratio(fitted.mode))
    sampled = sample(
        ready,
        warm_up=arguments.warm_up,
        draws=arguments.draws,
        chains=2,
        seed=arguments.seed,
        accept=arguments.accept,
    )
    size, _ = health(nuts_answers.answers(ready, room, sampled.draws)["draws"])
    share = arguments.warm_up / (arguments.warm_up + arguments.draws)
    for label, spent, fit_s in (
        ("wall", sampled.sampling_s, ours),
        ("processor", sampled.processor_s, ours_processor),
    ):
        warm, rest = spent * share, spent * (1.0 - share)
        needed = warm + rest * 400.0 / float(size.min())
        print(
            f"{label}: compile {sampled.compile_s:.0f} s (wall); 2 chains took {spent:.1f} s for a worst"
            f" effective size of {size.min():.0f}: {needed:.1f} s to 400, warm-up included;"
            f" fit {fit_s:.2f} s; ratio {needed / fit_s:.0f}"
        )


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--rooms", nargs="+", default=list(PLANS), choices=list(PLANS))
    parser.add_argument("--chains", type=int, default=4)
    parser.add_argument("--warm-up", type=int, default=600)
    parser.add_argument("--draws", type=int, default=10_000)
    parser.add_argument("--accept", type=float, default=0.95, help="acceptance that the step size aims at")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--record", type=Path)
    parser.add_argument("--from-record", type=Path, help="take rooms that were recorded, not drawn anew")
    parser.add_argument("--yardstick", choices=list(PLANS))
    arguments = parser.parse_args()
    if arguments.yardstick:
        yardstick(arguments.yardstick, arguments)
        return
    for name in arguments.rooms:
        room = room_of(name, arguments)
        moments, facts = reference(room, arguments)
        if arguments.record:
            record(name, room, moments, facts, arguments.record)
        report(name, fit(room.data), room, moments, facts)


if __name__ == "__main__":
    main()
