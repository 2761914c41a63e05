"""The plan of an inerting run: a table for people or, with --json, data for programs."""

import json
from collections.abc import Callable
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils.translation import gettext

from registry.corrosion.cylinders import cylinder_sizes
from registry.corrosion.gas import site_atmosphere
from registry.corrosion.inerting import MixingIndex, PlanInputs, RoomInputs
from registry.quantities import (
    STANDARD_ATMOSPHERE_PA,
    QuantityError,
    format_quantity,
    parse_quantity,
)
from registry.runs.planning import plan_document, plan_inerting

QUANTITIES = {
    "volume": ("volume", None, "inside volume of the pipe, such as “500 gal”"),
    "fill_pressure": ("pressure", "30 psi", "gauge pressure of a fill"),
    "feed_purity": ("percent", "99.9", "nitrogen of the feed gas, percent"),
    "start_n2": ("percent", "79.05", "nitrogen in the pipe at the start, percent"),
    "target": ("percent", "98", "nitrogen to accept at, percent"),
    "altitude": ("altitude", "0 m", "site above sea level"),
    "temperature": ("temperature", "70 degF", "gas in the pipe"),
    "reserve": ("pressure", "200 psi", "gauge pressure left in a cylinder"),
    "flow": ("gas_flow", None, "flow of the regulator"),
    "rated": ("pressure", None, "rated working pressure of the weakest component"),
    "room": ("volume", None, "volume of the room the gas is vented into"),
}
ABOVE_ZERO = ("volume", "fill_pressure", "flow", "rated", "room")


class Command(BaseCommand):
    help = "Plan an inerting run: fills, readings to expect, nitrogen and cylinders."

    def add_arguments(self, parser):
        for name, (_, default, words) in QUANTITIES.items():
            shown = f" (default {default})" if default else ""
            parser.add_argument(
                _option(name),
                default=default,
                required=name == "volume",
                help=f"{words}{shown}".replace("%", "%%"),
            )
        parser.add_argument("--mixing", default="1", help="mixing index, 1 is full mixing")
        parser.add_argument("--mixing-sd", default="0.15", help="its standard deviation")
        parser.add_argument(
            "--cylinder", default="large", help=f"one of {', '.join(cylinder_sizes())}"
        )
        parser.add_argument("--json", action="store_true", help="print data instead of a table")

    def handle(self, **options: Any) -> None:
        plan = plan_inerting(read_inputs(options))
        document = plan_document(plan)
        if options["json"]:
            self.stdout.write(json.dumps(document, indent=2))
        else:
            self.stdout.write("\n".join(table(document)))


def read_inputs(options: dict[str, Any]) -> PlanInputs:
    altitude = _quantity(options, "altitude")
    atmosphere = _try("altitude", options["altitude"], lambda: float(site_atmosphere(altitude)))
    given = {
        name: _quantity(options, name, atmosphere)
        for name in QUANTITIES
        if options[name] is not None
    }
    room = given.get("room")
    return PlanInputs(
        volume_m3=given["volume"],
        fill_pressure_gauge_pa=given["fill_pressure"],
        atmosphere_pa=atmosphere,
        temperature_k=given["temperature"],
        feed_n2_percent=given["feed_purity"],
        start_n2_percent=given["start_n2"],
        target_n2_percent=given["target"],
        mixing=MixingIndex(_mixing(options), _number(options, "mixing_sd", least=0.0)),
        rated_pressure_gauge_pa=given.get("rated"),
        cylinder=_cylinder(options),
        reserve_pressure_gauge_pa=_reserve(options, given["reserve"]),
        regulator_flow_m3_s=given.get("flow"),
        room=RoomInputs(room) if room else None,
    )


def _option(name: str) -> str:
    return "--" + name.replace("_", "-")


def _quantity(
    options: dict[str, Any], name: str, atmosphere: float = STANDARD_ATMOSPHERE_PA
) -> float:
    dimension = QUANTITIES[name][0]
    try:
        value = parse_quantity(str(options[name]), dimension, atmosphere_pa=atmosphere).value_si
    except QuantityError as error:
        raise CommandError(f"{_option(name)} {error}") from None
    if name in ABOVE_ZERO and value <= 0:
        raise CommandError(
            gettext("{option} “{value}”: it must be above zero.").format(
                option=_option(name), value=options[name]
            )
        )
    return value


def _try(name: str, typed: Any, compute: Callable[[], float]) -> float:
    try:
        return compute()
    except ValueError as error:
        raise CommandError(f"{_option(name)} “{typed}”: {error}.") from None


def _number(options: dict[str, Any], name: str, *, least: float) -> float:
    typed = options[name]
    try:
        value = float(typed)
    except ValueError:
        raise CommandError(
            gettext("{option} “{typed}”: write a number such as 0.9.").format(
                option=_option(name), typed=typed
            )
        ) from None
    if not least <= value <= 10:
        raise CommandError(
            gettext("{option} “{typed}”: it must be between {least:g} and 10.").format(
                option=_option(name), typed=typed, least=least
            )
        )
    return value


def _mixing(options: dict[str, Any]) -> float:
    return _number(options, "mixing", least=0.05)


def _cylinder(options: dict[str, Any]):
    sizes = cylinder_sizes()
    if options["cylinder"] not in sizes:
        known = ", ".join(sizes)
        raise CommandError(
            gettext("--cylinder “{cylinder}”: it must be one of {known}.").format(
                cylinder=options["cylinder"], known=known
            )
        )
    return sizes[options["cylinder"]]


def _reserve(options: dict[str, Any], reserve: float) -> float:
    full = _cylinder(options).full_pressure_gauge_pa
    if not 0 <= reserve < full:
        limit = format_quantity(full, "pressure")
        raise CommandError(
            gettext(
                "--reserve “{reserve}”: it must be between 0 and below {limit}, the full pressure "
                "of the cylinder."
            ).format(reserve=options["reserve"], limit=limit)
        )
    return reserve


def table(document: dict[str, Any]) -> list[str]:
    inputs = document["inputs"]
    lines = [
        f"Inerting {format_quantity(inputs['volume_m3'], 'volume')} to "
        f"{inputs['target_n2_percent']:g} % nitrogen with {inputs['feed_n2_percent']:g} % feed, "
        f"filled to {format_quantity(inputs['fill_pressure_gauge_pa'], 'pressure')}",
        "Nitrogen is 100 % less oxygen, as a meter shows it: argon counts as nitrogen.",
        "",
        "fill   reads about   8 in 10 read between   accepted by then",
        *(_row(fill) for fill in document["fills"]),
        "",
        *_amounts(document),
        *(f"Mind: {warning['reason']}" for warning in document["warnings"]),
    ]
    if refused := document["refused"]:
        lines.append(f"REFUSED: {refused['reason']}")
    return lines


def _row(fill: dict[str, Any]) -> str:
    return (
        f"{fill['fill']:>4}   {fill['n2_percent']:>9.2f} %   "
        f"{fill['low']:>9.2f} to {fill['high']:.2f} %   {100 * fill['accept_probability']:>13.0f} %"
    )


def _amounts(document: dict[str, Any]) -> list[str]:
    lines = [f"Nitrogen per fill: {document['nitrogen_per_fill_m3']:.2f} m3 at 101.325 kPa, 21.1 C"]
    if document["fills_needed"] is not None:
        lines.append(
            f"Fills needed: {document['fills_needed']}, whole cylinders: {document['cylinders']}"
        )
    if document["fills_likely"] is not None:
        lines.append(
            f"Load for nine runs in ten: {document['fills_likely']} fills, whole cylinders: "
            f"{document['cylinders_to_load']}"
        )
    if document["seconds_per_fill"] is not None:
        lines.append(
            f"Time per fill: {document['seconds_per_fill'] / 60:.0f} min at the given flow"
        )
    if document["room"]:
        lines.append(
            f"Lowest oxygen in the room: {document['room']['lowest_oxygen_percent']:.1f} %"
        )
    lines.append(f"The pipe can approach {document['asymptote_n2_percent']:g} % and not pass it.")
    return lines
