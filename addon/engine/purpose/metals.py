"""What a metal is like in use: resistivity, thermal conductivity, Young's modulus."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Service:
    """resistivity : ohm m at 20 C; conductivity : W/(m K); modulus : Pa; magnetic : its permeability at a frequency is
    not known, so neither is its skin depth"""

    resistivity: float
    conductivity: float
    modulus: float
    magnetic: bool = False


# Bulk values as in the CRC Handbook, copper's resistivity 100 % IACS (IEC 60028), from memory. Copper's modulus is that
# of electrodeposits (100 to 120 GPa, from memory). A deposit from an additive bath conducts a few percent less.
SERVICE = {
    "copper": Service(1.7241e-8, 400.0, 110e9),
    "nickel": Service(6.99e-8, 91.0, 200e9, magnetic=True),
    "silver": Service(1.59e-8, 429.0, 83e9),
    "zinc": Service(5.9e-8, 116.0, 108e9),
    "tin": Service(1.15e-7, 67.0, 50e9),
    "gold": Service(2.21e-8, 317.0, 79e9),
}
