"""The acid dip before the bath and after a pause: whether a part gets one."""

from __future__ import annotations

from ..settings.job import Job

DIP_STRENGTH = 0.05  # sulfuric acid by weight (common practice, no source)
DIPPED_METALS = ("copper", "nickel")
DISSOLVING_COAT = "zinc"  # in a coat's name: acid dissolves it, so it is never dipped
UNHELPED_COAT = "graphite"  # in a coat's name: acid does nothing for it, so only metal on it is dipped


def is_dipped(job: Job) -> bool:
    """Whether the part is dipped in acid, before the bath or after a pause.

    In nickel a pause ends the run, because passive nickel takes no further deposit; the part is not dipped again.
    """
    pauses = job.bath.metal == "copper" and DISSOLVING_COAT not in job.coat.name
    return pauses or bare_coat_is_dipped(job)


def bare_coat_is_dipped(job: Job) -> bool:
    """Whether the coat is dipped in acid before there is metal on it."""
    excluded = any(word in job.coat.name for word in (DISSOLVING_COAT, UNHELPED_COAT))
    return job.bath.metal in DIPPED_METALS and not excluded
