"""Why a stored score and the score of now differ, adding up from the one to the other."""

from registry.assess.books import read_books
from registry.assess.cases import Case, case_of
from registry.assess.clock import end_of
from registry.assess.results import assess_cases
from registry.corrosion.assumptions import MODEL_VERSION
from registry.corrosion.bridge import Step, bridge
from registry.models import Assessment
from registry.translation import _

LEAST_POINTS = 0.005
BY_MODEL = _("Another version of the model: {old} to {new}")
LEARNT = _("What the register was told since of the time before")


def bridge_from(before: Assessment, now: Case) -> tuple[Step, ...]:
    """Steps from the score as it was stored to that of `now`.

    The first says what the day of the stored score would be given now, by this version of the
    model and the facts of the register as they stand; then follow those of `bridge`.
    """
    earlier = case_of(read_books([now.book.system.pk], end_of(before.as_of))[0])
    if earlier is None or before.score is None:
        return ()
    again = assess_cases([earlier])[0].values.get("score")
    if again is None:
        return ()
    return (*_first(before, again - before.score), *bridge(earlier.input, now.input))


def _first(before: Assessment, points: float) -> tuple[Step, ...]:
    if abs(points) < LEAST_POINTS:
        return ()
    if before.model_version == MODEL_VERSION:
        return (Step("learnt", str(LEARNT), points),)
    said = str(BY_MODEL).format(old=before.model_version, new=MODEL_VERSION)
    return (Step("model", said, points),)
