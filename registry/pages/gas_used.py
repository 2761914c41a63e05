"""What the gauge of a cylinder tells of the gas that a fill used."""

from dataclasses import dataclass

from registry.corrosion.cylinders import CylinderSize, cylinder_sizes, usable_nitrogen
from registry.models import InertingRun


@dataclass(frozen=True)
class GasHint:
    """Standard m3 out of one cylinder of the planned size, at the planned temperature."""

    m3: float
    size: CylinderSize
    temperature_k: float

    @property
    def typed(self) -> str:
        return f"{self.m3:.3f} m3"


def gas_by_gauge(
    run: InertingRun, before_gauge_pa: float | None, after_gauge_pa: float | None
) -> GasHint | None:
    """None until both pressures are read and the cylinder gave something."""
    size = cylinder_sizes().get(run.plan.get("inputs", {}).get("cylinder", ""))
    if size is None or before_gauge_pa is None or after_gauge_pa is None:
        return None
    if not 0 <= after_gauge_pa < before_gauge_pa:
        return None
    used = usable_nitrogen(
        size.water_volume_m3,
        before_gauge_pa,
        after_gauge_pa,
        temperature=run.temperature_k,
        atmosphere=run.system.site.atmosphere_pa,
    )
    return GasHint(float(used), size, run.temperature_k)
