"""The metal film on a coat: its conductance, when it is closed, and how much coat copper has displaced."""

from __future__ import annotations

from ..filled import setting
from ..settings import tables
from ..settings.job import Job
from ..units import UM

# common practice, no source: a deposit this thick is closed; one this thin is still islands, and conducts nothing
COVERED_FILM_M = 1.0 * UM
ISLAND_FILM_M = 0.2 * UM
METAL_SHEET_RESISTANCE_OHM = 1e-9  # ohm per square that stand for a part of metal

# ohm m at 20 C; copper IEC 60028, the others handbook values, from memory. Bright deposits are somewhat higher.
RESISTIVITY_OHM_M = {
    "copper": 1.7241e-8,
    "nickel": 6.99e-8,
    "silver": 1.59e-8,
    "zinc": 5.9e-8,
    "tin": 1.15e-7,
    "gold": 2.2e-8,
}


def displaced_film(job: Job) -> float:
    """m of copper that displace the coat's own metal before the current is on; 0 for most coats."""
    entry = tables.entry("coats", job.coat.name, setting("coat.name"))
    film = float(tables.value(entry.get("displaced_film_um", 0.0))) * UM
    return film if job.bath.metal == "copper" else 0.0


def sheet_resistance_in_bath(job: Job) -> float:
    """ohm per square in the bath: the coat in parallel with the copper film displaced onto it."""
    ohms = job.coat.sheet_resistance
    closed = max(displaced_film(job) - ISLAND_FILM_M, 0.0) / RESISTIVITY_OHM_M[job.bath.metal]
    return ohms / (1.0 + ohms * closed)


def plated_conductance(job: Job, thickness: float) -> float:
    """Siemens per square of the coat under an even deposit of a thickness in m: two conductors in parallel."""
    coat = 1.0 / max(sheet_resistance_in_bath(job), METAL_SHEET_RESISTANCE_OHM)
    return coat + thickness / RESISTIVITY_OHM_M[job.bath.metal]
