"""Physical constants and conventions, each beside its unit, its source and how it is known.

Importing the module gives plain floats; `TABLE` holds the same values with what a page needs
to show them. A value cannot be in one and not in the other, because `_constant` makes both.
"""

from dataclasses import dataclass
from typing import Final, Literal

Basis = Literal["measured", "published", "assumed"]


@dataclass(frozen=True, slots=True)
class Constant:
    """One number the model stands on."""

    key: str
    value: float
    unit: str
    basis: Basis
    source: str
    note: str = ""
    editable: bool = False


TABLE: dict[str, Constant] = {}


def _constant(
    key: str, value: float, unit: str, source: str, note: str = "", basis: Basis = "published"
) -> float:
    if key in TABLE:
        raise ValueError(f"constant {key!r} is defined twice")
    TABLE[key] = Constant(key, value, unit, basis, source, note)
    return value


GAS_CONSTANT: Final = _constant(
    "gas_constant", 8.314462618, "J/(mol K)", "CODATA 2018, exact by definition of the SI"
)
FARADAY: Final = _constant(
    "faraday", 96485.33212, "C/mol", "CODATA 2018, exact by definition of the SI"
)
STANDARD_ATMOSPHERE: Final = _constant(
    "standard_atmosphere", 101325.0, "Pa", "ISO 2533:1975 standard atmosphere, sea level"
)
GAS_STATE_PRESSURE: Final = _constant(
    "gas_state_pressure",
    101325.0,
    "Pa",
    "CGA P-1 convention for cylinder gas volumes: 14.696 psia",
    "from memory, check the primary document",
)
GAS_STATE_TEMPERATURE: Final = _constant(
    "gas_state_temperature",
    294.25,
    "K",
    "CGA P-1 convention for cylinder gas volumes: 70 degF, 21.1 C",
    "from memory, check the primary document",
)
ISA_LAPSE: Final = _constant(
    "isa_lapse", 2.25577e-5, "1/m", "ISO 2533:1975: 0.0065 K/m over 288.15 K"
)
ISA_EXPONENT: Final = _constant(
    "isa_exponent", 5.25588, "1", "ISO 2533:1975: g M/(R L) below 11 000 m"
)
ISA_TOP: Final = _constant("isa_top", 11000.0, "m", "ISO 2533:1975, top of the troposphere")
ISA_BOTTOM: Final = _constant(
    "isa_bottom", -610.0, "m", "Lowest land on earth is about -430 m", basis="assumed"
)
OXYGEN_IN_DRY_AIR: Final = _constant(
    "oxygen_in_dry_air",
    0.2095,
    "mol/mol",
    "Dry air by mole, 20.95 %: US Standard Atmosphere 1976 prints 20.9476 %",
    "A meter that reads oxygen shows nitrogen as 100 - O2, so clean air reads 79.05 % and the"
    " 0.93 % of argon counts as nitrogen.",
)
OXYGEN_DEFICIENT: Final = _constant(
    "oxygen_deficient", 0.195, "mol/mol", "29 CFR 1910.146(b): below 19.5 % by volume"
)
OXYGEN_ENRICHED: Final = _constant(
    "oxygen_enriched",
    0.235,
    "mol/mol",
    "29 CFR 1910.146(b): above 23.5 % by volume",
    "from memory, check the primary document",
)
MOLAR_MASS_OXYGEN: Final = _constant(
    "molar_mass_oxygen", 31.998e-3, "kg/mol", "IUPAC 2021 standard atomic weights, O 15.999"
)
MOLAR_MASS_NITROGEN: Final = _constant(
    "molar_mass_nitrogen", 28.0134e-3, "kg/mol", "IUPAC 2021 standard atomic weights, N 14.007"
)
MOLAR_MASS_WATER: Final = _constant("molar_mass_water", 18.015268e-3, "kg/mol", "IAPWS R6-95(2018)")
MOLAR_MASS_IRON: Final = _constant(
    "molar_mass_iron", 55.845e-3, "kg/mol", "IUPAC 2021 standard atomic weights"
)
MOLAR_MASS_ZINC: Final = _constant(
    "molar_mass_zinc", 65.38e-3, "kg/mol", "IUPAC 2021 standard atomic weights"
)
DENSITY_STEEL: Final = _constant(
    "density_steel", 7870.0, "kg/m3", "ASTM G102 table of densities, iron", "from memory"
)
IRON_PER_SULPHATE: Final = _constant(
    "iron_per_sulphate",
    4.0 * 55.845 / 96.06,
    "kg/kg",
    "4 Fe + SO4(2-) -> FeS + 3 Fe(OH)2 by sulphate reducers; masses IUPAC 2021",
    "reaction from memory",
)
ALLOWABLE_STRESS: Final = _constant(
    "allowable_stress",
    137.9e6,
    "Pa",
    "ASME B31.3 table A-1, ASTM A53 grade B, 20 ksi",
    "from memory, check the primary document",
)
