"""Density of calcium chloride solutions as measured, apart from the fit that the service uses.

Al Ghafri, Maitland and Trusler, "Densities of aqueous MgCl2, CaCl2 ... between (283 and 472) K", J. Chem. Eng. Data 57
(2012) 1288-1304, equation 9 with the coefficients of its table for CaCl2 (to 6 mol/kg; the authors vouch for the
equation from 25 °C up and measured from 10 °C on). Pure water is CoolProp's (IAPWS). At the pressure of a tank the
paper's term for compression is below 0.005 percent and is left out.
"""

from CoolProp.CoolProp import PropsSI

_SEA_LEVEL_PA = 101_325
_KG_A_MOLE = 0.110984
_CRITICAL_KELVIN = 647.096
# One row a power of the molality (2/2, 3/2, 4/2), one column a power of the reduced temperature (none, 2/2 to 5/2).
_EXCESS = (
    (2546.760, -39884.946, 102056.957, -98403.334, 33976.048),
    (-1362.157, 22785.572, -59216.108, 57894.824, -20222.898),
    (217.778, -3770.645, 9908.135, -9793.484, 3455.587),
)


def density(mass_pct: float, degc: float) -> float:
    """kg/m³."""
    kelvin = degc + 273.15
    molality = mass_pct / (100 - mass_pct) / _KG_A_MOLE
    reduced = kelvin / _CRITICAL_KELVIN
    found = float(PropsSI("D", "T", kelvin, "P", _SEA_LEVEL_PA, "Water"))
    for row, (first, *others) in enumerate(_EXCESS, start=1):
        warmth = first + sum(each * reduced ** ((at + 1) / 2) for at, each in enumerate(others, start=1))
        found += warmth * molality ** ((row + 1) / 2)
    return found


def expansion(mass_pct: float, degc: float) -> float:
    """Part of its volume by which it grows for one kelvin."""
    return (density(mass_pct, degc - 0.5) - density(mass_pct, degc + 0.5)) / density(mass_pct, degc)
