"""The English texts of the sign and of the page behind its code."""

from registry.riser_sign.text_set import Texts
from registry.translation import _

EN = Texts(
    language="en",
    language_name=_("English"),
    title=_("This pipe holds nitrogen"),
    lead_wet=_(
        "Nitrogen keeps this sprinkler pipe from rusting. Draining it the usual way lets air in, "
        "and the work of getting the air out again must be done anew."
    ),
    lead_gas=_(
        "This sprinkler pipe is filled with nitrogen under pressure, which keeps it from rusting. "
        "Do not let air in, and never fill it with an air compressor."
    ),
    cautions_title=_("Before you touch a valve"),
    cautions=(
        _(
            "Draining takes the fire protection away. Get the owner's leave first, and tell the "
            "fire service, the insurer and the alarm company."
        ),
        _(
            "Nitrogen displaces the air people breathe. Ventilate, wear an oxygen monitor, and "
            "leave below 19.5 % oxygen."
        ),
        _(
            "Secure every cylinder. Never use oxygen in place of nitrogen. Never go above {rated}: "
            "that is what the weakest part is rated for."
        ),
    ),
    drain_title=_("To drain it without letting air in"),
    valve=_("Close and lock {valve}."),
    connect=_("Connect nitrogen to {port}, before any drain is opened."),
    set_point=_(
        "Set the regulator to {set_point}. If the gauge shows more than {service}, ask first."
    ),
    set_point_unknown=_(
        "Read the gauge. Set the regulator about {margin} above it, and never above {rated}."
    ),
    no_room=_(
        "The usual pressure of {service} leaves no room below {rated}. Bring the pressure down "
        "first, and ask the contractor how."
    ),
    start=_("Start the nitrogen. It must stand on the pipe before water leaves it."),
    main_drain=_("Open {drain}. Keep nitrogen flowing until all the water is out."),
    close_main=_("Close {drain} before any other drain is opened. One drain at a time."),
    each_further=_("Then one after another, each closed before the next: {drains}."),
    no_further=_(
        "No other drain of this system is in the register. Open any you find one at a time."
    ),
    two_valves=_("A low-point drain with two valves: never open both at once."),
    refill_wet=_(
        "Leave nitrogen on the pipe until it is refilled with water. Then test, tell everybody "
        "again, and scan the code to say how it went."
    ),
    refill_gas=_(
        "Fill with nitrogen again, never with air. Resetting the valve is for licensed people. "
        "Then tell everybody again, and scan the code to say how it went."
    ),
    not_in_register=_("{part} (not in the register: find it and ask first)"),
    happened_title=_("If it tripped, broke or leaks"),
    fire=_("Fire, or not sure: leave the valves open and call the fire service."),
    water_wet=_(
        "Water, and surely no fire: whoever may do so closes {valve} and stays beside it. Close it "
        "even if that lets air in: people come first."
    ),
    water_gas=_(
        "Tripped, and surely no fire: whoever may do so closes {valve} and stays beside it. Drain "
        "it as said here, with nitrogen."
    ),
    no_air=_("Do not put air into the pipe. Do not run a compressor."),
    tell=_("Scan the code and tell what happened. It needs no account and takes a minute."),
    call_title=_("Call"),
    contractor=_("Contractor"),
    owner=_("Owner"),
    nobody=_("No contractor is in the register"),
    write_in=_("telephone not in the register, write it here:"),
    emergency=_("Fire: the emergency number first."),
    scan=_("Tell what happened"),
    made=_("Made on {day} from record {sequence} of this system. {system}"),
    decides=_(
        "Local codes, the adopted edition, the authority having jurisdiction and licensed practice "
        "decide."
    ),
    port_name=_("the injection port"),
    valve_name=_("the control valve"),
    main_drain_name=_("the main drain"),
    tell_title=_("What happened?"),
    tell_lead=_(
        "In danger, or fire: leave, and call the emergency number first. Nobody watches this page."
    ),
    drain_link=_("Drain it without letting air in"),
    what=(
        ("leak", _("Water or gas is coming out of a pipe")),
        ("head_break", _("A sprinkler opened or was knocked off")),
        ("fire", _("There was a fire")),
        ("trip", _("The valve tripped and water ran into the pipe")),
        ("drained", _("Water was drained from the pipe")),
        ("valve_closed", _("A valve was closed")),
        ("gas_loss", _("The gas pressure fell, or an air compressor was used")),
        ("other", _("Something else")),
    ),
    happened=_("When was it?"),
    happened_choices=(
        ("now", _("Just now")),
        ("today", _("Earlier today")),
        ("before", _("Before today")),
        ("unknown", _("I do not know")),
    ),
    steps=(
        ("nitrogen_before_opening", _("Was nitrogen connected before any drain was opened?")),
        ("regulator_above_system", _("Was the regulator set above the pressure of the pipe?")),
        ("flow_until_empty", _("Did nitrogen flow until all the water was out?")),
        ("one_drain_at_a_time", _("Was only one drain open at a time?")),
    ),
    answers=(("yes", _("Yes")), ("no", _("No")), ("unknown", _("I do not know"))),
    photo=_("Photos"),
    photo_help=_("Up to 3, at most 10 MB each. Where they were taken is taken out of them."),
    words=_("In your own words"),
    contact=_("Your name or telephone number"),
    contact_help=_(
        "Only if you like. The people who look after this system see it; ask them to erase it."
    ),
    send=_("Send it"),
    back=_("Back"),
    thanks_title=_("It is written down"),
    thanks=_(
        "It stands in the book as not confirmed. The people who look after this system are sent a "
        "message. If something is urgent, call as well."
    ),
    thanks_again=_(
        "Others told of this system already, and that is not yet answered. What you said is added "
        "to it; photos sent this time are not kept. If something is urgent, call."
    ),
    gauge=_("Pressure that the gauge shows now"),
    unit=_("Unit"),
    gauge_wrong=_("Write the pressure as a number from 0 to {most}, as the gauge shows it."),
    photo_wrong=_("Not kept: send JPEG, PNG, WebP or HEIC photos, at most 3, each up to 10 MB."),
    photo_again=_("Choose the photos again: a browser does not keep them."),
    choose=_("Choose one of the answers."),
    calculate=_("Work it out"),
    above_rated=_(
        "There is no room between that and {rated}, which the weakest part is rated for. Bring the "
        "pressure down first, and ask the contractor how."
    ),
    gauge_set_point=_("Set the regulator to {set_point}."),
    how_it_went=_("Drained: say how it went"),
    mend=_("Not sent yet. Mend this first:"),
    too_many_title=_("Too many for this hour"),
    too_many=_(
        "More was sent from here, or from this sign, than the book takes in an hour. What was told "
        "before is kept. Call instead."
    ),
    optional=_("if you like"),
    nothing_else=_("This page shows nothing that is not on the sign."),
)
