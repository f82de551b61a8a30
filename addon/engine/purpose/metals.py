"""Service properties of metals: conductivity, stiffness, yield strength, hardness, permeability."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Service:
    """resistivity : ohm m at 20 C; conductivity : W/(m K); modulus : Pa

    yields : Pa, where a deposit begins to yield; hardness : Pa, of a deposit
    permeability : relative, in a weak and slow field; from there it falls to 1 as the frequency rises
    """

    resistivity: float
    conductivity: float
    modulus: float
    yields: float
    hardness: float
    permeability: float = 1.0


# Bulk values as in the CRC Handbook, copper's resistivity 100 % IACS (IEC 60028), from memory. Copper's modulus is that
# of electrodeposits (100 to 120 GPa, from memory). A deposit from an additive bath conducts a few percent less.
# Yield strength and hardness of plain deposits from memory; they depend on the bath and its additives by a factor of
# two: copper 60 to 150 HV, Watts nickel 130 to 200 HV. Nickel's initial permeability of about 100: R. M. Bozorth,
# Ferromagnetism (1951), from memory.
SERVICE = {
    "copper": Service(1.7241e-8, 400.0, 110e9, 150e6, 1.0e9),
    "nickel": Service(6.99e-8, 91.0, 200e9, 220e6, 1.5e9, permeability=100.0),
    "silver": Service(1.59e-8, 429.0, 83e9, 80e6, 0.8e9),
    "zinc": Service(5.9e-8, 116.0, 108e9, 90e6, 0.45e9),
    "tin": Service(1.15e-7, 67.0, 50e9, 12e6, 0.1e9),
    "gold": Service(2.21e-8, 317.0, 79e9, 100e6, 0.6e9),
}
