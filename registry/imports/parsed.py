"""What a good row says, as the register will hold it."""

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True)
class GivenRun:
    """A pipe run; two equal ones are the same pipe."""

    role: str
    material: str
    schedule: str
    nominal_size: str
    wall_mm: float
    wall_basis: str
    outside_diameter_mm: float
    length_m: float
    joint: str
    installed_on: date
    installed_precision: str

    @property
    def look(self) -> tuple[str, ...]:
        """What a corrected version of the same run would still share with it."""
        return (self.role, self.material, self.nominal_size)


@dataclass(frozen=True, slots=True)
class ParsedRow:
    number: int
    site: str
    building: str
    tag: str
    kind: str
    hazard: str
    gas_supply: str
    rated_pressure_gauge_pa: float | None
    design_pressure_gauge_pa: float | None
    run: GivenRun
    remark: str
    sheet: str = ""
    row_key: str = ""  # of a row that came back to be fixed

    @property
    def key(self) -> tuple[str, str]:
        return (self.site.casefold(), self.tag.casefold())

    @property
    def name(self) -> str:
        return f"{self.sheet} {self.number}" if self.sheet else str(self.number)
