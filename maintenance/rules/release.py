"""Who may free a machine, and when."""

from collections.abc import Collection, Sequence

from maintenance.rules.words import list_text

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
    competent: bool = True,
    corrected_by: Collection[str] = (),
    tests_open: Sequence[str] = (),
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
        competent: whether the releaser's competence for this kind was in date.
        corrected_by: whoever turned a recorded failure of it into a pass.
        tests_open: failed tests without a passed retest.
    """
    if frees is not None and not frees:
        return "Name what this release frees."
    if learner:
        return "A learner cannot release a machine. Ask a competent person."
    if not competent:
        return "The competence for this kind of machine is missing or out of date."
    if releaser in corrected_by:
        return "Who turned a failure into a pass cannot also release the machine."
    if jobs_open:
        return f"First close or call off {list_text(jobs_open)}."
    if tests_open:
        return f"First pass the retest of {list_text(tests_open)}."
    if releaser in done_by:
        if not one_person_depot:
            return "Who did the work cannot release it. Ask a second person."
        if len(reason.strip()) < REASON_LETTERS:
            return "You did the work yourself. Write why nobody else can check it."
    return ""
