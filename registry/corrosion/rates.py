"""From oxygen, current or weighed coupons to metal lost."""

from typing import Final, Literal

import numpy as np

from registry.corrosion.constants import (
    DENSITY_STEEL,
    FARADAY,
    MOLAR_MASS_IRON,
    MOLAR_MASS_OXYGEN,
    MOLAR_MASS_ZINC,
)
from registry.corrosion.types import Real, plain, require_not_negative, require_positive

Product = Literal["Fe(OH)2", "Fe3O4", "Fe2O3"]

_IRON_PER_OXYGEN_MOLES: Final[dict[Product, float]] = {
    "Fe(OH)2": 2.0,
    "Fe3O4": 1.5,
    "Fe2O3": 4.0 / 3.0,
}

YEAR: Final = 365.25 * 86400.0
"""Julian year in seconds."""

IRON_EQUIVALENT: Final = MOLAR_MASS_IRON / 2.0
ZINC_EQUIVALENT: Final = MOLAR_MASS_ZINC / 2.0
"""Equivalent weights for divalent ions, kg/mol of electrons (27.92 and 32.69 g)."""


def iron_per_oxygen(product: Product = "Fe3O4") -> float:
    """Iron turned into `product` by oxygen, kg/kg: most for Fe(OH)2, least for Fe2O3.

    Equation: 2 Fe + O2 + 2 H2O -> 2 Fe(OH)2; 3 Fe + 2 O2 -> Fe3O4; 4 Fe + 3 O2 -> 2 Fe2O3.
    Example:
    >>> [round(iron_per_oxygen(p), 3) for p in ("Fe(OH)2", "Fe3O4", "Fe2O3")]
    [3.491, 2.618, 2.327]
    """
    if product not in _IRON_PER_OXYGEN_MOLES:
        known = ", ".join(_IRON_PER_OXYGEN_MOLES)
        raise ValueError(f"product is {product!r}; it must be one of {known}")
    return _IRON_PER_OXYGEN_MOLES[product] * MOLAR_MASS_IRON / MOLAR_MASS_OXYGEN


def zinc_per_oxygen() -> float:
    """Zinc turned into its oxide or hydroxide by oxygen, kg/kg: 2 Zn + O2 -> 2 ZnO."""
    return 2.0 * MOLAR_MASS_ZINC / MOLAR_MASS_OXYGEN


def steel_depth_per_oxygen(product: Product = "Fe3O4") -> float:
    """Depth of steel per oxygen spent on a surface, m per kg/m2."""
    return iron_per_oxygen(product) / DENSITY_STEEL


def penetration_rate(
    current: Real, equivalent: Real = IRON_EQUIVALENT, density: Real = DENSITY_STEEL
) -> Real:
    """Penetration rate of a corrosion current density, m/s.

    Equation: CR = i EW / (F rho); ASTM G102 writes it CR = K1 i EW / rho, K1 = 3.27e-3 mm/yr.
    Parameters: current i [A/m2]; equivalent EW [kg per mole of electrons]; density [kg/m3].
    Source: ASTM G102, equation 2, from memory; the constant follows from Faraday's.
    """
    require_positive(equivalent=equivalent, density=density)
    return plain(np.asarray(current) * np.asarray(equivalent) / (FARADAY * np.asarray(density)))


def coupon_rate(mass_loss: Real, density: Real, area: Real, time: Real) -> Real:
    """Mean penetration rate of a weighed coupon, m/s.

    Equation: CR = W / (D A T); ASTM G1 writes it with 87.6 for mm/yr, mg, g/cm3, cm2 and h.
    Source: ASTM G1, section on corrosion rates.
    """
    require_not_negative(mass_loss=mass_loss)
    require_positive(density=density, area=area, time=time)
    return plain(np.asarray(mass_loss) / (np.asarray(density) * np.asarray(area) * time))


def oxygen_diffusivity(temperature: Real) -> Real:
    """Diffusion coefficient of oxygen in water, m2/s.

    Equation: log10 D [cm2/s] = -4.410 + 773.8/T - (506.4/T)**2.
    Parameters: temperature [K], measured from 0 to 95 C.
    Source: Han & Bartels, J. Phys. Chem. 100 (1996) 5597, from memory.
    """
    require_positive(temperature=temperature)
    t = np.asarray(temperature, dtype=float)
    return plain(1e-4 * 10.0 ** (-4.410 + 773.8 / t - (506.4 / t) ** 2))


def limiting_oxygen_flux(temperature: Real, dissolved: Real, film: Real) -> Real:
    """Oxygen that diffuses through a still film to a surface that uses all of it, kg/(m2 s).

    Equation: J = D C / delta.
    Parameters: dissolved C [kg/m3] outside the film; film delta [m].
    Source: Fick's first law at the diffusion limit.
    """
    require_not_negative(dissolved=dissolved)
    require_positive(film=film)
    return plain(np.asarray(oxygen_diffusivity(temperature)) * np.asarray(dissolved) / film)


def limiting_rate(
    temperature: Real, dissolved: Real, film: Real, *, product: Product = "Fe(OH)2"
) -> Real:
    """Steel penetration when oxygen diffusion limits it, m/s.

    Example: 25 C, 8.26 mg/L, film of 0.5 mm, as mm per year
    >>> round(limiting_rate(298.15, 8.26e-3, 0.5e-3) * YEAR * 1000, 2)
    0.46
    """
    flux = np.asarray(limiting_oxygen_flux(temperature, dissolved, film))
    return plain(flux * steel_depth_per_oxygen(product))


def zinc_as_steel_depth(mass_per_area: Real, product: Product = "Fe3O4") -> Real:
    """Steel depth that the oxygen used up by a zinc coating would have cost, m.

    Equation: oxygen taken by zinc (2 Zn + O2), times steel depth per oxygen. Zinc goes first, so
    steel is lost only by what exceeds this.
    """
    require_not_negative(mass_per_area=mass_per_area)
    oxygen = np.asarray(mass_per_area) / zinc_per_oxygen()
    return plain(oxygen * steel_depth_per_oxygen(product))
