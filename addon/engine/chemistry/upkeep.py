"""The keys of a bath's entry that tell how it is made up and kept."""

from __future__ import annotations

from dataclasses import dataclass

from ..settings.schema import number, text
from ..units import A_PER_DM2, AMPERE_HOUR, GRAM_PER_LITER, HOUR, LITER, ML, UM, ZERO_CELSIUS


@dataclass(frozen=True)
class Upkeep:
    """The keys of a bath entry that only chemistry reads, as `settings.bath.Bath` reads the others."""

    temperature_window: tuple[float, float] | None = number(
        "temperature_window_C",
        None,
        "Temperatures at which the bath works",
        unit="C",
        offset=ZERO_CELSIUS,
        low=0,
        high=100,
        size=2,
    )
    anode: str = text("anode", "", "Material of the anode")
    anode_to_cathode: tuple[float, float] = number(
        "anode_to_cathode", (1.0, 2.0), "Usual ratio of anode to cathode area", low=0.01, high=100, size=2
    )
    brightener: float = number(
        "brightener_mL_Ah",
        0.0,
        "Brightener used up by the charge",
        unit="mL/Ah",
        scale=ML / AMPERE_HOUR,
        low=0,
        high=100,
    )
    agitation: str = text("agitation", "", "How the solution is moved")
    additive_name: str = text("additive", "", "What is added for brightness and evenness")
    additive: float = number(
        "additive_mL_L", 0.0, "Additive at make-up", unit="mL/L", scale=ML / LITER, low=0, high=500
    )
    wetter_name: str = text("wetter", "", "What lowers the surface tension")
    wetter: float = number(
        "wetter_g_L", 0.0, "Wetting agent at make-up", unit="g/L", scale=GRAM_PER_LITER, low=0, high=100
    )
    ph_window: tuple[float, float] | None = number(
        "ph_window", None, "pH at which the bath works", low=-2, high=14, size=2
    )
    ph_lower: str = text("ph_lower", "", "What lowers the pH")
    ph_raise: str = text("ph_raise", "", "What raises the pH")
    heating: str = text("heating", "", "How the bath is kept warm")
    filtering: str = text("filtering", "", "How often the bath is filtered")
    filter_mesh: float = number("filter_um", 0.0, "Mesh of the filter", unit="um", scale=UM, low=0, high=1000)
    anode_bag: str = text("anode_bag", "", "Bag of the anodes")
    aeration: str = text("aeration", "", "Air that is blown in")
    film_time: float = number(
        "anode_film_h", 0.0, "How long new anodes are worked in", unit="h", scale=HOUR, low=0, high=1000
    )
    film_density: float = number(
        "anode_film_A_dm2", 0.0, "Density on new anodes meanwhile", unit="A/dm2", scale=A_PER_DM2, low=0, high=100
    )
