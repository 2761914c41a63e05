"""The words of the sign and of the page behind its code, one whole set for each language.

The Spanish set is the project's own translation, not a sworn one: a reader of the trade should
check it before it hangs anywhere. The order of the work is common practice, no source.
"""

from dataclasses import dataclass

from registry.translation import _


@dataclass(frozen=True)
class Texts:
    """Names in braces are filled with what the register holds of the system."""

    language: str
    language_name: str
    title: str
    lead_wet: str
    lead_gas: str
    cautions_title: str
    cautions: tuple[str, ...]
    drain_title: str
    valve: str
    connect: str
    set_point: str
    set_point_unknown: str
    no_room: str
    start: str
    main_drain: str
    close_main: str
    each_further: str
    no_further: str
    two_valves: str
    refill_wet: str
    refill_gas: str
    not_in_register: str
    happened_title: str
    fire: str
    water_wet: str
    water_gas: str
    no_air: str
    tell: str
    call_title: str
    contractor: str
    owner: str
    nobody: str
    write_in: str
    emergency: str
    scan: str
    made: str
    decides: str
    port_name: str
    valve_name: str
    main_drain_name: str
    # the page behind the code
    tell_title: str
    tell_lead: str
    drain_link: str
    what: tuple[tuple[str, str], ...]
    happened: str
    happened_choices: tuple[tuple[str, str], ...]
    steps: tuple[tuple[str, str], ...]
    answers: tuple[tuple[str, str], ...]
    photo: str
    photo_help: str
    words: str
    contact: str
    contact_help: str
    send: str
    back: str
    thanks_title: str
    thanks: str
    thanks_again: str
    gauge: str
    unit: str
    gauge_wrong: str
    photo_wrong: str
    choose: str
    calculate: str
    above_rated: str
    gauge_set_point: str
    how_it_went: str
    mend: str
    too_many: str
    too_many_title: str
    optional: str
    nothing_else: str


EN = Texts(
    language="en",
    language_name=_("English"),
    title=_("This pipe holds nitrogen"),
    lead_wet=_(
        "Nitrogen keeps this sprinkler pipe from rusting. Draining it the usual way lets air in, and "
        "the work of getting the air out again must be done anew."
    ),
    lead_gas=_(
        "This sprinkler pipe is filled with nitrogen under pressure, which keeps it from rusting. "
        "Do not let air in, and never fill it with an air compressor."
    ),
    cautions_title=_("Before you touch a valve"),
    cautions=(
        _(
            "Draining takes the fire protection away. Get the owner's leave first, and tell the fire "
            "service, the insurer and the alarm company."
        ),
        _(
            "Nitrogen displaces the air people breathe. Ventilate, wear an oxygen monitor, and leave "
            "below 19.5 % oxygen."
        ),
        _(
            "Secure every cylinder. Never use oxygen in place of nitrogen. Never go above {rated}: "
            "that is what the weakest part is rated for."
        ),
    ),
    drain_title=_("To drain it without letting air in"),
    valve=_("Close and lock {valve}."),
    connect=_("Connect nitrogen to {port}, before any drain is opened."),
    set_point=_("Set the regulator to {set_point}. If the gauge shows more than {service}, ask first."),
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
    no_further=_("No other drain of this system is in the register. Open any you find one at a time."),
    two_valves=_("A low-point drain with two valves: never open both at once."),
    refill_wet=_(
        "Leave nitrogen on the pipe until it is refilled with water. Then test, tell everybody again, "
        "and scan the code to say how it went."
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
        "Tripped, and surely no fire: whoever may do so closes {valve} and stays beside it. Drain it "
        "as said here, with nitrogen."
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
    tell_lead=_("In danger, or fire: leave, and call the emergency number first. Nobody watches this page."),
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
    contact_help=_("Only if you like. The people who look after this system see it; ask them to erase it."),
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

ES = Texts(
    language="es",
    language_name="Español",
    title="Esta tubería contiene nitrógeno",
    lead_wet=(
        "El nitrógeno protege de la corrosión esta tubería de rociadores. Vaciarla de la manera "
        "habitual deja entrar aire, y hay que volver a hacer el trabajo de sacarlo."
    ),
    lead_gas=(
        "Esta tubería de rociadores está llena de nitrógeno a presión, que la protege de la "
        "corrosión. No deje entrar aire y no la llene nunca con un compresor de aire."
    ),
    cautions_title="Antes de tocar una válvula",
    cautions=(
        "Vaciar la tubería deja sin protección contra incendios. Pida antes permiso al propietario y "
        "avise a los bomberos, a la aseguradora y a la central de alarmas.",
        "El nitrógeno desplaza el aire que se respira. Ventile, lleve un medidor de oxígeno y salga "
        "por debajo del 19,5 % de oxígeno.",
        "Sujete todas las botellas. No use nunca oxígeno en lugar de nitrógeno. No supere nunca "
        "{rated}: es la presión admitida por la parte más débil.",
    ),
    drain_title="Para vaciarla sin que entre aire",
    valve="Cierre y asegure {valve}.",
    connect="Conecte el nitrógeno a {port} antes de abrir ningún drenaje.",
    set_point=(
        "Ajuste el regulador a {set_point}. Si el manómetro marca más de {service}, pregunte antes."
    ),
    set_point_unknown=(
        "Lea el manómetro. Ajuste el regulador unos {margin} por encima, y nunca por encima de "
        "{rated}."
    ),
    no_room=(
        "La presión habitual de {service} no deja margen por debajo de {rated}. Baje antes la "
        "presión y pregunte a la empresa de mantenimiento cómo hacerlo."
    ),
    start="Abra el nitrógeno. Debe haber presión en la tubería antes de que salga el agua.",
    main_drain="Abra {drain}. Mantenga el flujo de nitrógeno hasta que haya salido toda el agua.",
    close_main="Cierre {drain} antes de abrir otro drenaje. Un solo drenaje a la vez.",
    each_further="Después, uno tras otro, cerrando cada uno antes de abrir el siguiente: {drains}.",
    no_further=(
        "No consta ningún otro drenaje de este sistema. Si encuentra otros, ábralos de uno en uno."
    ),
    two_valves="Drenaje de punto bajo con dos válvulas: no abra nunca las dos a la vez.",
    refill_wet=(
        "Deje nitrógeno en la tubería hasta volver a llenarla de agua. Después haga las pruebas, avise "
        "a todos otra vez y escanee el código para contar cómo fue."
    ),
    refill_gas=(
        "Vuelva a llenarla con nitrógeno, nunca con aire. Rearmar la válvula corresponde a personal "
        "autorizado. Después avise a todos otra vez y escanee el código para contar cómo fue."
    ),
    not_in_register="{part} (no consta en el registro: localícelo y pregunte antes)",
    happened_title="Si se disparó, se rompió o hay una fuga",
    fire="Incendio, o duda: deje las válvulas abiertas y llame a los bomberos.",
    water_wet=(
        "Sale agua y es seguro que no hay fuego: quien esté autorizado cierra {valve} y se queda junto "
        "a ella. Ciérrela aunque entre aire: las personas son lo primero."
    ),
    water_gas=(
        "Se disparó y es seguro que no hay fuego: quien esté autorizado cierra {valve} y se queda "
        "junto a ella. Vacíe la tubería como se indica aquí, con nitrógeno."
    ),
    no_air="No meta aire en la tubería. No ponga en marcha ningún compresor.",
    tell="Escanee el código y cuente qué pasó. No hace falta cuenta y lleva un minuto.",
    call_title="Llame a",
    contractor="Empresa de mantenimiento",
    owner="Propietario",
    nobody="No consta ninguna",
    write_in="el teléfono no consta, escríbalo aquí:",
    emergency="Incendio: primero el número de emergencias.",
    scan="Cuente qué pasó",
    made="Hecho el {day} a partir de la anotación {sequence} de este sistema. {system}",
    decides=(
        "Deciden las normas locales, la edición adoptada, la autoridad competente y el personal "
        "autorizado."
    ),
    port_name="la toma de inyección",
    valve_name="la válvula de control",
    main_drain_name="el drenaje principal",
    tell_title="¿Qué pasó?",
    tell_lead=(
        "Si hay peligro o un incendio: salga y llame primero al número de emergencias. Nadie vigila esta "
        "página."
    ),
    drain_link="Vaciarla sin que entre aire",
    what=(
        ("leak", "Sale agua o gas de una tubería"),
        ("head_break", "Un rociador se abrió o lo arrancaron de un golpe"),
        ("fire", "Hubo un incendio"),
        ("trip", "La válvula se disparó y entró agua en la tubería"),
        ("drained", "Se vació el agua de la tubería"),
        ("valve_closed", "Se cerró una válvula"),
        ("gas_loss", "Bajó la presión del gas, o se usó un compresor de aire"),
        ("other", "Otra cosa"),
    ),
    happened="¿Cuándo fue?",
    happened_choices=(
        ("now", "Ahora mismo"),
        ("today", "Hoy, hace un rato"),
        ("before", "Antes de hoy"),
        ("unknown", "No lo sé"),
    ),
    steps=(
        ("nitrogen_before_opening", "¿Se conectó el nitrógeno antes de abrir ningún drenaje?"),
        ("regulator_above_system", "¿Se ajustó el regulador por encima de la presión de la tubería?"),
        ("flow_until_empty", "¿Hubo flujo de nitrógeno hasta que salió toda el agua?"),
        ("one_drain_at_a_time", "¿Hubo un solo drenaje abierto a la vez?"),
    ),
    answers=(("yes", "Sí"), ("no", "No"), ("unknown", "No lo sé")),
    photo="Fotos",
    photo_help="Hasta 3, de 10 MB como máximo. Se les quita el lugar donde se hicieron.",
    words="Con sus palabras",
    contact="Su nombre o teléfono",
    contact_help=(
        "Solo si quiere. Lo ven las personas que cuidan este sistema; pídales que lo borren."
    ),
    send="Enviar",
    back="Volver",
    thanks_title="Queda anotado",
    thanks=(
        "Consta en el libro como no confirmado. Se envía un mensaje a las personas que cuidan este "
        "sistema. Si es urgente, llame también."
    ),
    thanks_again=(
        "Otras personas ya avisaron de este sistema y aún no hay respuesta. Lo que usted dijo se "
        "añade; las fotos enviadas esta vez no se guardan. Si es urgente, llame."
    ),
    gauge="Presión que marca ahora el manómetro",
    unit="Unidad",
    gauge_wrong="Escriba la presión como un número de 0 a {most}, tal como la marca el manómetro.",
    photo_wrong="No se guarda: envíe fotos JPEG, PNG, WebP o HEIC, 3 como máximo y de hasta 10 MB.",
    choose="Elija una de las respuestas.",
    calculate="Calcular",
    above_rated=(
        "No hay margen entre esa presión y {rated}, la admitida por la parte más débil. Baje antes la "
        "presión y pregunte a la empresa de mantenimiento cómo hacerlo."
    ),
    gauge_set_point="Ajuste el regulador a {set_point}.",
    how_it_went="Ya está vacía: cuente cómo fue",
    mend="Aún no se ha enviado. Corrija antes esto:",
    too_many_title="Demasiados avisos en esta hora",
    too_many=(
        "Desde aquí, o desde este cartel, se ha enviado más de lo que el libro admite en una hora. Lo "
        "anterior está guardado. Llame por teléfono."
    ),
    optional="si quiere",
    nothing_else="Esta página no muestra nada que no esté en el cartel.",
)

TEXTS = {texts.language: texts for texts in (EN, ES)}
