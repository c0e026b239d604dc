"""Who may free a machine, and when."""

from collections.abc import Collection, Sequence

from maintenance.rules.words import list_text
from plant.translate import gettext as _

REASON_LETTERS = 10


def refusal(
    *,
    releaser: str,
    done_by: Collection[str],
    learner: bool,
    one_person_depot: bool,
    reason: str,
    jobs_open: Sequence[str],
    frees: Collection[str] | None = None,
    not_competent: str = "",
    corrected_by: Collection[str] = (),
    tests_open: Sequence[str] = (),
    not_countersigned: Sequence[str] = (),
) -> str:
    """Why this person may not release this machine now; empty when he may.

    Args:
        releaser: who signs the release check.
        done_by: everybody who did work on the jobs that stopped the machine.
        learner: whether the releaser is marked as a learner.
        one_person_depot: one person may release his own work here, with a written reason.
        reason: that reason.
        jobs_open: numbers of the jobs that stopped it and are neither closed nor called off.
        frees: the stops that the release names; None where the caller has not asked yet.
        not_competent: why the releaser's competence does not count that day, in words; or empty.
        corrected_by: whoever turned a recorded failure of it into a pass.
        tests_open: failed tests without a passed retest.
        not_countersigned: numbers of the jobs that a learner did and nobody has countersigned.
    """
    if frees is not None and not frees:
        return _("Name what this release frees.")
    if learner:
        return _("A learner cannot release a machine. Ask a competent person.")
    if not_competent:
        return not_competent
    if releaser in corrected_by:
        return _("Who turned a failure into a pass cannot also release the machine.")
    if jobs_open:
        return _("First close or call off {jobs_open}.").format(jobs_open=list_text(jobs_open))
    if not_countersigned:
        return _("A learner worked on {not_countersigned}. Countersign that first.").format(
            not_countersigned=list_text(not_countersigned)
        )
    if tests_open:
        return _("First pass the retest of {tests_open}.").format(tests_open=list_text(tests_open))
    if releaser in done_by:
        if not one_person_depot:
            return _("Who did the work cannot release it. Ask a second person.")
        if len(reason.strip()) < REASON_LETTERS:
            return _("You did the work yourself. Write why nobody else can check it.")
    return ""
