"""Safety lines that calendars and mail carry with a follow-up, as whole sentences."""

IMPAIRMENT = "takes the fire protection away: follow the impairment procedure."
OUT_OF_SERVICE = (
    "Sprinklers may not work until protection is restored: keep the fire watch, which is nobody's "
    "other task, and tell everybody again when it is back."
)
BREATHING = "Nitrogen displaces the air people breathe: ventilate and carry an oxygen monitor."
DRAINING = (
    f"Draining {IMPAIRMENT} {BREATHING} Stay below the rated pressure of the weakest component."
)
OPENING = (
    f"Opening or draining pipe {IMPAIRMENT} It may hold water and gas under pressure; let both out "
    "first, and ventilate."
)
SUPPLY = f"{BREATHING} Shut the supply off and let the pressure out before it is opened."
WHO_DECIDES = (
    "Local codes, the adopted edition, the authority having jurisdiction and licensed practice "
    "decide."
)
