"""Every page that somebody goes to by itself, in one table; and which five stand in whose menu."""

from dataclasses import dataclass

from plant.models import User
from plant.rights import Right, depots_where


@dataclass(frozen=True, slots=True)
class Page:
    """A page. right: what shows it, None for everybody signed in; about: what it is for;
    by_password: not on a shared phone, and not while practising."""

    word: str
    name: str
    right: Right | None
    about: str
    by_password: bool = False


GROUPS: tuple[tuple[str, tuple[Page, ...]], ...] = (
    (
        "Machines",
        (
            Page("Today", "reports:today", Right.SEE, "What needs you now."),
            Page("Machines", "maintenance:machine_list", Right.SEE, "All, with their three marks."),
            Page("Scan", "maintenance:scan", Right.SEE, "From a label to its machine."),
            Page("Held", "maintenance:held", Right.SEE, "Must not be used, and why."),
            Page("Out and in", "maintenance:out_in", Right.MOVE, "Can it go; what is where."),
            Page("On this phone", "maintenance:phone", Right.CHECK, "For where no signal is."),
        ),
    ),
    (
        "Work",
        (
            Page("Jobs", "maintenance:job_list", Right.SEE, "Faults and work, to their close."),
            Page("Day sheet", "maintenance:day", Right.WORK, "Who does what today."),
            Page("Due", "maintenance:due_list", Right.SEE, "What is to be done by when."),
            Page("The weeks ahead", "maintenance:look_ahead", Right.SEE, "Hours against fitters."),
            Page("Plans", "maintenance:plan_list", Right.SEE, "What each kind is due for."),
            Page("Back again", "maintenance:back_again", Right.WORK, "How often it comes back."),
        ),
    ),
    (
        "Belts and parts",
        (
            Page("Belts", "maintenance:belts", Right.SEE, "Every belt, worst first."),
            Page("Find a belt", "maintenance:find_belt", Right.SEE, "By mark, measure or drive."),
            Page("Running out", "maintenance:running_out", Right.SEE, "When each belt ends."),
            Page("Rack", "maintenance:rack", Right.SEE, "Parts, and where they lie."),
            Page("What to buy", "maintenance:shopping", Right.STOCK, "The shopping list."),
            Page("Belts: work out", "plant:work_out", None, "The sums alone."),
        ),
    ),
    (
        "Checks and tests",
        (
            Page("Tests", "maintenance:test_list", Right.SEE, "Electrical tests, and the next."),
            Page(
                "Test instruments",
                "maintenance:instrument_list",
                Right.WORK,
                "With their calibrations.",
            ),
            Page(
                "Files of test instruments",
                "maintenance:readings_file_list",
                Right.WORK,
                "Readings brought in.",
            ),
            Page(
                "Checks worth a look",
                "maintenance:worth_a_look",
                Right.DECIDE,
                "Where they seem ticked through.",
            ),
        ),
    ),
    (
        "Paper",
        (
            Page("Paper", "reports:batch_list", Right.SEE, "Sheets, passports, labels, bundles."),
            Page(
                "Printed by itself",
                "reports:timed_list",
                Right.PRINT_MANY,
                "Paper that comes by the clock.",
            ),
            Page("Check a paper", "reports:sealed", None, "Whether it is as it was sealed."),
        ),
    ),
    (
        "People and the system",
        (
            Page("Office", "plant:office", Right.PEOPLE, "People, depots, rules: the ways in."),
            Page("People", "plant:account_list", Right.PEOPLE, "Their roles and accounts."),
            Page("Competences", "maintenance:people", Right.PEOPLE, "Who may sign for what."),
            Page("Depots", "maintenance:depot_list", Right.PEOPLE, "With their settings."),
            Page("Roles", "plant:rights_told", Right.SEE, "What each role may do."),
            Page("Rule sheets", "maintenance:rule_sheets", Right.SEE, "Limits, and where from."),
            Page("Shared phones", "plant:phone_list", Right.PEOPLE, "Enrolled, withdrawn."),
            Page("Files", "plant:import_list", Right.IMPORT, "Machines brought in from a file."),
            Page("What is kept", "maintenance:keep", Right.KEEP, "Which words and photos will go."),
            Page("Erasures", "reports:erasures", Right.KEEP, "People taken out of the records."),
            Page(
                "Taken out", "reports:take_out", Right.TAKE_OUT, "Everything of a depot, as files."
            ),
            Page("Health", "plant:health", Right.RUN_SYSTEM, "Whether the system itself is well."),
            Page(
                "Start and stop", "plant:start_and_stop", Right.RUN_SYSTEM, "How the system is run."
            ),
            Page("Restore", "plant:restore_page", Right.RUN_SYSTEM, "From a backup, in order."),
            Page(
                "Parts of the page",
                "maintenance:page_parts",
                Right.PEOPLE,
                "Every mark, button and field there is.",
            ),
        ),
    ),
    (
        "Help",
        (
            Page("Help", "maintenance:help_page", None, "A guide for each, and a box to find it."),
            Page("Words we use", "maintenance:help_words", None, "What each word means."),
            Page("Why?", "maintenance:help_why", None, "Why each thing is asked."),
            Page("Worked examples", "maintenance:help_worked", None, "Sums that can be repeated."),
            Page("Practise", "maintenance:practice", Right.SEE, "On a machine of your own."),
        ),
    ),
    (
        "Yourself",
        (
            Page(
                "Messages",
                "reports:messages",
                Right.SEE,
                "Mail and calendars that you want.",
                by_password=True,
            ),
            Page("Your account", "plant:own_account", None, "Where you are signed in; password."),
            Page("Your code", "plant:own_code", None, "Six figures for shared phones."),
            Page("Your data", "reports:own_data", None, "Everything kept of you, to take along."),
        ),
    ),
)
_BY_NAME = {page.name: page for _, pages in GROUPS for page in pages}

# Nobody has more than five, so that they fit a phone. The first line whose right somebody has is
# his menu: who plans, who gives work out, who works, who moves machines, who runs the system, who
# uses them. All else stands under "More".
_MENUS: tuple[tuple[Right, tuple[str, ...]], ...] = (
    (
        Right.PLAN,
        (
            "reports:today",
            "maintenance:machine_list",
            "maintenance:job_list",
            "maintenance:due_list",
            "reports:batch_list",
        ),
    ),
    (
        Right.GIVE_OUT,
        (
            "reports:today",
            "maintenance:job_list",
            "maintenance:due_list",
            "maintenance:held",
            "maintenance:belts",
        ),
    ),
    (
        Right.WORK,
        (
            "reports:today",
            "maintenance:scan",
            "maintenance:job_list",
            "maintenance:belts",
            "maintenance:rack",
        ),
    ),
    (
        Right.MOVE,
        (
            "maintenance:out_in",
            "reports:today",
            "maintenance:machine_list",
            "reports:batch_list",
        ),
    ),
    (
        Right.RUN_SYSTEM,
        (
            "plant:health",
            "plant:office",
            "plant:import_list",
            "maintenance:machine_list",
            "reports:today",
        ),
    ),
    (
        Right.SEE,
        (
            "maintenance:scan",
            "reports:today",
            "maintenance:machine_list",
            "maintenance:held",
            "maintenance:help_page",
        ),
    ),
)


def menu_of(user: User) -> tuple[Page, ...]:
    """The five pages, or fewer, of the person's work."""
    for right, names in _MENUS:
        if depots_where(user, right):
            return tuple(page for page in map(_BY_NAME.__getitem__, names) if _shown(page, user))
    return ()


def groups_of(user: User) -> list[tuple[str, list[Page]]]:
    """All pages that the person may go to, by what they are about."""
    found = [(title, [page for page in pages if _shown(page, user)]) for title, pages in GROUPS]
    return [(title, pages) for title, pages in found if pages]


def _shown(page: Page, user: User) -> bool:
    if page.by_password and (user.on_phone or user.practising):
        return False
    return page.right is None or bool(depots_where(user, page.right))
