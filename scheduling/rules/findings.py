"""Rules on what was found besides the state of the gas: leaks, dirt, thin walls, trips, faults."""

from django.utils.translation import gettext_noop as _

from registry.kinds.events import (
    COMPRESSOR_WORK,
    DRAIN_DOWN,
    DRUM_DRIP,
    FREEZE,
    GAS_LOSS,
    GENERATOR_BYPASS,
    GENERATOR_WORK,
    HYDROSTATIC_TEST,
    LEAK,
    PNEUMATIC_TEST,
    PUMP_STARTS,
    REPAIR,
    TOLD,
    TRIP,
    VALVE_LEAKS_THROUGH,
)
from registry.kinds.facts import FACTS_AMENDED
from registry.kinds.inspections import INSPECTION_COMPLETED
from registry.kinds.readings import LEAK_DOWN_TEST, OBSTRUCTION_FINDING, WALL_READING
from registry.quantities import STANDARD_ATMOSPHERE_PA
from scheduling.rules import cautions
from scheduling.rules.answers import (
    clears_the_bore,
    empties_low_points,
    renews_pipe,
    restores_supply,
)
from scheduling.rules.finding_rule import FindingRule
from scheduling.rules.types import Details, Finding, LogOffer, Work, by_kind

THIN = 0.5  # of the wall the pipe began with; common practice, no source
SLOWER = 1.5  # half as long again: NFPA 25, verify against your edition
ROUNDING = 1e-9
A_TENTH = 0.1  # of the gauge pressure at the start; common practice, no source
DIRT = ("slime", "scale", "debris")
HOLES = ("pinhole", "unknown")


def asks_for_a_look_inside(finding: Finding) -> bool:
    details = finding.details
    if finding.kind == LEAK.code:
        return details.get("form") in HOLES
    if finding.kind == OBSTRUCTION_FINDING.code:
        return details.get("finding") in DIRT
    if finding.kind == INSPECTION_COMPLETED.code and finding.first_delivery_s:
        return bool(details.get("delivery_time_s", 0.0) >= SLOWER * finding.first_delivery_s)
    return False


def is_thin(finding: Finding) -> bool:
    began_with = finding.first_wall_mm
    return began_with is not None and finding.details["wall_mm"] < THIN * began_with


def leaves_water_low(finding: Finding) -> bool:
    return finding.details.get("drained_after") != "yes"


def lost_in_leak_down(details: Details) -> float:
    """The share of the gauge pressure lost, as it would be had the gas kept its temperature.

    Of a fixed amount of gas the absolute pressure goes with the absolute temperature. Where a
    temperature was not written down, the gauges are taken as they read.
    """
    start_gauge_pa, end_gauge_pa = details["start_gauge_pa"], details["end_gauge_pa"]
    start_k, end_k = details.get("start_temperature_k"), details.get("end_temperature_k")
    if not start_gauge_pa:
        return 0.0
    if start_k and end_k:
        at_start_k = (end_gauge_pa + STANDARD_ATMOSPHERE_PA) * start_k / end_k
        end_gauge_pa = at_start_k - STANDARD_ATMOSPHERE_PA
    return float((start_gauge_pa - end_gauge_pa) / start_gauge_pa)


def loses_a_tenth(details: Details) -> bool:
    return lost_in_leak_down(details) >= A_TENTH - ROUNDING


def asks_for_the_leak(finding: Finding) -> bool:
    if finding.kind == LEAK_DOWN_TEST.code:
        return loses_a_tenth(finding.details)
    if finding.kind == PUMP_STARTS.code:
        return finding.details.get("more_often") == "yes"
    return finding.details.get("held") == "no"


def feeds_what_it_should_not(finding: Finding) -> bool:
    """A supply that lost its pressure, or of which the record says that it lets air in."""
    details = finding.details
    if finding.kind == GENERATOR_BYPASS.code:
        return details.get("closed_after") == "no"
    if finding.kind == COMPRESSOR_WORK.code:
        return details.get("valve_shut") == "no"
    if finding.kind == GENERATOR_WORK.code:
        return details.get("feeds") == "air"
    return True


def ends_leak_search(kind: str, details: Details) -> bool:
    if kind == LEAK_DOWN_TEST.code:
        return not loses_a_tenth(details)
    return kind == REPAIR.code or details.get("held") == "yes"


def _tells_of_the_leak(finding: Finding) -> str:
    if finding.kind == LEAK_DOWN_TEST.code:
        return _tells_of_the_leak_down(finding)
    if finding.kind == PUMP_STARTS.code:
        return f"{finding.cause.label}, and more often than it used to"
    return f"{finding.cause.label}, and the pressure did not hold"


def _tells_of_the_supply(finding: Finding) -> str:
    said = {
        GENERATOR_BYPASS.code: "the bypass is not shut again",
        COMPRESSOR_WORK.code: "its valve is not shut",
        GENERATOR_WORK.code: "it feeds air, or too little nitrogen",
    }.get(finding.kind)
    return f"{finding.cause.label}, {said}" if said else finding.cause.label


def _tells_of_the_leak_down(finding: Finding) -> str:
    has_both = {"start_temperature_k", "end_temperature_k"} <= finding.details.keys()
    corrected = "corrected for temperature" if has_both else "temperature not known at both ends"
    lost = f"{100 * lost_in_leak_down(finding.details):.0f} % of the pressure lost"
    return f"{finding.cause.label}, {lost}, {corrected}"


def _tells_of_the_bore(finding: Finding) -> str:
    details = finding.details
    if finding.kind == OBSTRUCTION_FINDING.code:
        return f"{finding.cause.label}, {details['finding']}"
    if finding.kind == INSPECTION_COMPLETED.code:
        return (
            f"water arrived after {details['delivery_time_s']:.0f} s, at first after "
            f"{finding.first_delivery_s:.0f} s"
        )
    return finding.cause.label


def _tells_what_was_told(finding: Finding) -> str:
    said = dict(TOLD.fields[0].choices).get(finding.details.get("what", ""), "")
    return f"told at the sign and not confirmed, “{said}”"


def _tells_of_the_wall(finding: Finding) -> str:
    details = finding.details
    return (
        f"{details['wall_mm']:.2f} mm of wall left of {finding.first_wall_mm:.2f} mm, "
        f"{details.get('nominal_size', '')} {details.get('run_role', '').replace('_', ' ')}"
    )


LOG_REPAIR = LogOffer(_("Log the repair"), REPAIR)
PIPE_CAUTIONS = ("draining", "nitrogen", "pressure", "local_codes")
OBSTRUCTION = FindingRule(
    code="obstruction",
    title=_("Look inside where something points to an obstruction"),
    says=_(
        "A pinhole or unexplained leak, dirt found in the pipe, or water that needs half as long "
        "again to arrive raises an obstruction investigation."
    ),
    waits_for=_("an obstruction finding “clear”, or an internal assessment with nothing wrong"),
    work=Work(
        code="obstruction",
        label=_("Obstruction investigation"),
        answer_kinds=(OBSTRUCTION_FINDING, INSPECTION_COMPLETED),
        is_answer=clears_the_bore,
        caution=cautions.OPENING,
        cautions=PIPE_CAUTIONS,
        to_load=(_("Camera for the inside of pipe"), _("Container for what comes out")),
        log=(LogOffer(_("Log what was found inside"), OBSTRUCTION_FINDING),),
    ),
    reads=(LEAK, OBSTRUCTION_FINDING, INSPECTION_COMPLETED),
    asks=asks_for_a_look_inside,
    tells=_tells_of_the_bore,
    days=30,
    basis=_(
        "Conditions: NFPA 25 14.3.1, verify against your edition. Days: common practice, no source."
    ),
)
THIN_WALL = FindingRule(
    code="thin_wall",
    title=_("Propose to replace pipe that has worn thin"),
    says=_(
        "A wall reading below half of the wall the pipe began with raises a proposal to replace it."
    ),
    waits_for=_("a repair for which the pipe was opened"),
    work=Work(
        code="replacement",
        label=_("Proposal to replace pipe"),
        answer_kinds=(REPAIR,),
        is_answer=renews_pipe,
        caution=cautions.OPENING,
        cautions=PIPE_CAUTIONS,
        to_load=(_("Tape and wall-thickness gauge"),),
        log=(LOG_REPAIR,),
        stays_with_owner=True,  # whether the money is spent is not the contractor's to say
    ),
    reads=(WALL_READING,),
    asks=is_thin,
    tells=_tells_of_the_wall,
    days=30,
)
LOW_POINTS = FindingRule(
    code="low_points",
    title=_("Drain low points after a trip"),
    says=_(
        "A trip, or a valve that leaks water into gas-filled pipe, after which nobody says that "
        "the low points were drained raises the draining of them."
    ),
    waits_for=_(
        "a low-point drain operated, a drain-down, the recurring draining of low points, or a "
        "correction of the trip"
    ),
    work=Work(
        code="low_points",
        label=_("Drain low points"),
        answer_kinds=(DRUM_DRIP, DRAIN_DOWN, INSPECTION_COMPLETED),
        is_answer=empties_low_points,
        caution=cautions.OPENING,
        cautions=PIPE_CAUTIONS,
        to_load=(_("Drain hose"), _("Container for the water")),
        log=(LogOffer(_("Log the draining"), DRUM_DRIP),),
    ),
    reads=(TRIP, VALVE_LEAKS_THROUGH),
    asks=leaves_water_low,
    priority=2,
    days=2,
)
GAS_SUPPLY = FindingRule(
    code="gas_supply",
    title=_("Repair the gas supply"),
    says=_(
        "Loss of gas pressure where a generator, compressor or cylinders keep it up raises a "
        "repair; so does a generator that feeds air, and a bypass or valve that was left open."
    ),
    waits_for=_("a repair, or another gas supply in the register"),
    work=Work(
        code="gas_supply",
        label=_("Repair of the gas supply"),
        answer_kinds=(REPAIR, FACTS_AMENDED),
        is_answer=restores_supply,
        caution=cautions.SUPPLY,
        cautions=PIPE_CAUTIONS,
        to_load=(_("Parts for the gas supply"), _("Gas analyser"), _("Oxygen monitor")),
        log=(LOG_REPAIR,),
    ),
    reads=(GAS_LOSS, GENERATOR_BYPASS, COMPRESSOR_WORK, GENERATOR_WORK),
    asks=feeds_what_it_should_not,
    tells=_tells_of_the_supply,
    applies=lambda facts: facts.has_gas_supply,  # a supply that can have failed
    priority=3,
    days=3,
)
LEAK_SEARCH = FindingRule(
    code="leak_search",
    title=_("Search for the leak where pressure does not hold"),
    says=_(
        "A leak-down test that loses a tenth of its pressure or more, corrected for temperature, "
        "asks for a search for the leak; so does a pressure test that does not hold, and a pump "
        "that starts more often than it used to."
    ),
    waits_for=_("a repair, or a later leak-down or pressure test that holds"),
    work=Work(
        code="leak_search",
        label=_("Leak search"),
        answer_kinds=(REPAIR, LEAK_DOWN_TEST, HYDROSTATIC_TEST, PNEUMATIC_TEST),
        is_answer=ends_leak_search,
        caution=cautions.BREATHING,
        cautions=("nitrogen", "pressure", "local_codes"),
        to_load=(
            _("Leak detection fluid"),
            _("Test gauge"),
            _("Pipe thermometer"),
            _("Oxygen monitor"),
        ),
        log=(LOG_REPAIR, LogOffer(_("Log a leak-down test"), LEAK_DOWN_TEST)),
    ),
    reads=(LEAK_DOWN_TEST, HYDROSTATIC_TEST, PNEUMATIC_TEST, PUMP_STARTS),
    asks=asks_for_the_leak,
    tells=_tells_of_the_leak,
    days=7,
    basis=_(
        "Correction for temperature: fixed amount of ideal gas. A tenth, and the days: common "
        "practice, no source."
    ),
)
LEAK_REPAIR = FindingRule(
    code="leak_repair",
    title=_("Repair a leak"),
    says=_("A leak, or pipe that froze, raises its repair."),
    waits_for=_("a repair"),
    work=Work(
        code="leak_repair",
        label=_("Repair of a leak"),
        answer_kinds=(REPAIR,),
        is_answer=by_kind(REPAIR),
        caution=cautions.OPENING,
        cautions=PIPE_CAUTIONS,
        to_load=(_("Pipe and fittings for the repair"), _("Drain hose")),
        log=(LOG_REPAIR,),
    ),
    reads=(LEAK, FREEZE),
    priority=2,
    days=7,
)
TOLD_AT_THE_SIGN = FindingRule(
    code="told",
    title=_("Answer what was told at the sign"),
    says=_(
        "What somebody without an account tells by the code of the sign asks to be confirmed, "
        "corrected or dismissed. However many tell, one follow-up of the system stands open."
    ),
    waits_for=_("what was told to be confirmed, corrected or dismissed"),
    work=Work(
        code="told",
        label=_("Answer what was told at the sign"),
        answer_kinds=(),
        is_answer=by_kind(),
        is_answered_in_place=True,
        caution=cautions.OUT_OF_SERVICE,
        cautions=("draining", "nitrogen", "local_codes"),
        to_load=(_("Gauge for the drain test"), _("Gas analyser"), _("Oxygen monitor")),
        log=(LogOffer(_("Confirm, correct or dismiss it"), page="registry:told"),),
        is_about_protection=True,
    ),
    reads=(TOLD,),
    tells=_tells_what_was_told,
    priority=1,
    days=1,
)
RULES = (
    OBSTRUCTION, THIN_WALL, LOW_POINTS, GAS_SUPPLY, LEAK_SEARCH, LEAK_REPAIR, TOLD_AT_THE_SIGN,
)  # fmt: skip
