"""The Spanish texts: our own translation, which nobody sworn has checked."""

from registry.riser_sign.text_set import Texts

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
        "Vaciar la tubería deja sin protección contra incendios. Pida antes permiso al "
        "propietario y avise a los bomberos, a la aseguradora y a la central de alarmas.",
        "El nitrógeno desplaza el aire que se respira. Ventile, lleve un medidor de oxígeno y "
        "salga por debajo del 19,5 % de oxígeno.",
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
        "Deje nitrógeno en la tubería hasta volver a llenarla de agua. Después haga las pruebas, "
        "avise a todos otra vez y escanee el código para contar cómo fue."
    ),
    refill_gas=(
        "Vuelva a llenarla con nitrógeno, nunca con aire. Rearmar la válvula corresponde a "
        "personal autorizado. Después avise a todos otra vez y escanee el código para contar cómo "
        "fue."
    ),
    not_in_register="{part} (no consta en el registro: localícelo y pregunte antes)",
    happened_title="Si se disparó, se rompió o hay una fuga",
    fire="Incendio, o duda: deje las válvulas abiertas y llame a los bomberos.",
    water_wet=(
        "Sale agua y es seguro que no hay fuego: quien esté autorizado cierra {valve} y se queda "
        "junto a ella. Ciérrela aunque entre aire: las personas son lo primero."
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
        "Si hay peligro o un incendio: salga y llame primero al número de emergencias. Nadie "
        "vigila esta página."
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
        (
            "regulator_above_system",
            "¿Se ajustó el regulador por encima de la presión de la tubería?",
        ),
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
    photo_again="Elija otra vez las fotos: el navegador no las guarda.",
    choose="Elija una de las respuestas.",
    calculate="Calcular",
    above_rated=(
        "No hay margen entre esa presión y {rated}, la admitida por la parte más débil. Baje "
        "antes la presión y pregunte a la empresa de mantenimiento cómo hacerlo."
    ),
    gauge_set_point="Ajuste el regulador a {set_point}.",
    how_it_went="Ya está vacía: cuente cómo fue",
    mend="Aún no se ha enviado. Corrija antes esto:",
    too_many_title="Demasiados avisos en esta hora",
    too_many=(
        "Desde aquí, o desde este cartel, se ha enviado más de lo que el libro admite en una "
        "hora. Lo anterior está guardado. Llame por teléfono."
    ),
    optional="si quiere",
    nothing_else="Esta página no muestra nada que no esté en el cartel.",
)
