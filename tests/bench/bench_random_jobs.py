"""Two hundred jobs at random: whether each ends, why, in how many steps, and whether its stated error holds.

python tests/bench/bench_random_jobs.py [COUNT [FIRST]]     200 from number 0, some 20 minutes of one processor
"""

from __future__ import annotations

import os

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(name, "1")

import sys
import time
import traceback
from collections import Counter
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[k]) for k in (1, 2)]

from random_jobs import Outcome, make, outcome


def row(number: int) -> tuple[Outcome, str]:
    job = make(number)
    try:
        found = outcome(job)
    except Exception as fault:  # told and counted: no job may end so
        traceback.print_exc()
        found = Outcome(f"ERROR: {fault!r}")
    head = (
        f"{number:4d} {job.shape:8} {job.table['bath']['name'][:24]:24} {job.table['target']['density_A_dm2']:6.2f}"
        f" {job.ohms:8.3g} {job.table['tank']['shape']:8} {job.panels:5d}"
    )
    return found, head


def summary(every: list[Outcome]) -> None:
    print(f"{len(every)} jobs ended: {dict(Counter(one.ending.split(':')[0] for one in every))}")
    for ending in ("converged", "held", "coat-too-poor"):
        some = [one for one in every if one.ending.startswith(ending)]
        if not some:
            continue
        steps, products = (np.array([getattr(one, name) for one in some]) for name in ("steps", "products"))
        print(
            f"  {ending} ({len(some)}): steps {np.median(steps):.0f}, at most {steps.max()}; products"
            f" {np.median(products):.0f}, at most {products.max()}; residual at most"
            f" {max(one.residual for one in some):.1e}; balance at most {max(one.balance for one in some):.1e}"
        )
    a_step = [one.iterations / one.steps for one in every if one.steps]
    print(f"  GMRES iterations a step of a job: median {np.median(a_step):.1f}, at most {max(a_step):.1f}")
    ratio = np.array([one.stated / one.true for one in every if one.stated > 0 and one.true > 0])
    if len(ratio):
        low, middle, high = np.percentile(ratio, (5, 50, 95))
        within = np.mean((ratio >= 0.5) & (ratio <= 2.0))
        print(
            f"  stated over true error: 5 % {low:.2f}, median {middle:.2f}, 95 % {high:.2f}; within twofold {within:.0%}"
        )
        print(
            f"  true error under the stated one: {np.mean(ratio >= 1.0):.0%}; under twice it: {np.mean(ratio >= 0.5):.0%}"
        )


if __name__ == "__main__":
    count, first = map(int, [*sys.argv[1:3], *("200", "0")[len(sys.argv) - 1 :]])
    every: list[Outcome] = []
    busy = time.process_time()
    print(
        "  no shape    bath                     A/dm2   ohm/sq tank   panels | steps its products residual balance V | stated true"
    )
    for number in range(first, first + count):
        found, head = row(number)
        every.append(found)
        print(
            f"{head} | {found.ending[:60]:14} {found.steps:3d} {found.iterations:4d} {found.products:4d} {found.residual:8.1e}"
            f" {found.balance:8.1e} {found.voltage:6.3g} | {100 * found.stated:6.2f} % {100 * found.true:6.2f} %",
            flush=True,
        )
    summary(every)
    print(f"{time.process_time() - busy:.0f} s of processor")
