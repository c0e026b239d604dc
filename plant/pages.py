"""Every page that somebody goes to by itself, in one table; and which five stand in whose menu."""

from dataclasses import dataclass

from plant.lazy_text import gettext_lazy
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
        gettext_lazy("Machines"),
        (
            Page(
                gettext_lazy("Today"),
                "reports:today",
                Right.SEE,
                gettext_lazy("What needs you now."),
            ),
            Page(
                gettext_lazy("Machines"),
                "maintenance:machine_list",
                Right.SEE,
                gettext_lazy("All, with their three marks."),
            ),
            Page(
                gettext_lazy("Scan"),
                "maintenance:scan",
                Right.SEE,
                gettext_lazy("From a label to its machine."),
            ),
            Page(
                gettext_lazy("Held"),
                "maintenance:held",
                Right.SEE,
                gettext_lazy("Must not be used, and why."),
            ),
            Page(
                gettext_lazy("Out and in"),
                "maintenance:out_in",
                Right.MOVE,
                gettext_lazy("Can it go; what is where."),
            ),
            Page(
                gettext_lazy("On this phone"),
                "maintenance:phone",
                Right.CHECK,
                gettext_lazy("For where no signal is."),
            ),
        ),
    ),
    (
        gettext_lazy("Work"),
        (
            Page(
                gettext_lazy("Jobs"),
                "maintenance:job_list",
                Right.SEE,
                gettext_lazy("Faults and work, to their close."),
            ),
            Page(
                gettext_lazy("Day sheet"),
                "maintenance:day",
                Right.WORK,
                gettext_lazy("Who does what today."),
            ),
            Page(
                gettext_lazy("Due"),
                "maintenance:due_list",
                Right.SEE,
                gettext_lazy("What is to be done by when."),
            ),
            Page(
                gettext_lazy("The weeks ahead"),
                "maintenance:look_ahead",
                Right.SEE,
                gettext_lazy("Hours against fitters."),
            ),
            Page(
                gettext_lazy("Plans"),
                "maintenance:plan_list",
                Right.SEE,
                gettext_lazy("What each kind is due for."),
            ),
            Page(
                gettext_lazy("Back again"),
                "maintenance:back_again",
                Right.WORK,
                gettext_lazy("How often it comes back."),
            ),
        ),
    ),
    (
        gettext_lazy("Belts and parts"),
        (
            Page(
                gettext_lazy("Belts"),
                "maintenance:belts",
                Right.SEE,
                gettext_lazy("Every belt, worst first."),
            ),
            Page(
                gettext_lazy("Find a belt"),
                "maintenance:find_belt",
                Right.SEE,
                gettext_lazy("By mark, measure or drive."),
            ),
            Page(
                gettext_lazy("Running out"),
                "maintenance:running_out",
                Right.SEE,
                gettext_lazy("When each belt ends."),
            ),
            Page(
                gettext_lazy("Rack"),
                "maintenance:rack",
                Right.SEE,
                gettext_lazy("Parts, and where they lie."),
            ),
            Page(
                gettext_lazy("What to buy"),
                "maintenance:shopping",
                Right.STOCK,
                gettext_lazy("The shopping list."),
            ),
            Page(
                gettext_lazy("Belts: work out"),
                "plant:work_out",
                None,
                gettext_lazy("The sums alone."),
            ),
        ),
    ),
    (
        gettext_lazy("Checks and tests"),
        (
            Page(
                gettext_lazy("Tests"),
                "maintenance:test_list",
                Right.SEE,
                gettext_lazy("Electrical tests, and the next."),
            ),
            Page(
                gettext_lazy("Test instruments"),
                "maintenance:instrument_list",
                Right.WORK,
                gettext_lazy("With their calibrations."),
            ),
            Page(
                gettext_lazy("Files of test instruments"),
                "maintenance:readings_file_list",
                Right.WORK,
                gettext_lazy("Readings brought in."),
            ),
            Page(
                gettext_lazy("Checks worth a look"),
                "maintenance:worth_a_look",
                Right.DECIDE,
                gettext_lazy("Where they seem ticked through."),
            ),
        ),
    ),
    (
        gettext_lazy("Paper"),
        (
            Page(
                gettext_lazy("Paper"),
                "reports:batch_list",
                Right.SEE,
                gettext_lazy("Sheets, passports, labels, bundles."),
            ),
            Page(
                gettext_lazy("Printed by itself"),
                "reports:timed_list",
                Right.PRINT_MANY,
                gettext_lazy("Paper that comes by the clock."),
            ),
            Page(
                gettext_lazy("Check a paper"),
                "reports:sealed",
                None,
                gettext_lazy("Whether it is as it was sealed."),
            ),
        ),
    ),
    (
        gettext_lazy("People and the system"),
        (
            Page(
                gettext_lazy("Office"),
                "plant:office",
                Right.PEOPLE,
                gettext_lazy("People, depots, rules: the ways in."),
            ),
            Page(
                gettext_lazy("People"),
                "plant:account_list",
                Right.PEOPLE,
                gettext_lazy("Their roles and accounts."),
            ),
            Page(
                gettext_lazy("Competences"),
                "maintenance:people",
                Right.PEOPLE,
                gettext_lazy("Who may sign for what."),
            ),
            Page(
                gettext_lazy("Depots"),
                "maintenance:depot_list",
                Right.PEOPLE,
                gettext_lazy("With their settings."),
            ),
            Page(
                gettext_lazy("Roles"),
                "plant:rights_told",
                Right.SEE,
                gettext_lazy("What each role may do."),
            ),
            Page(
                gettext_lazy("Rule sheets"),
                "maintenance:rule_sheets",
                Right.SEE,
                gettext_lazy("Limits, and where from."),
            ),
            Page(
                gettext_lazy("Shared phones"),
                "plant:phone_list",
                Right.PEOPLE,
                gettext_lazy("Enrolled, withdrawn."),
            ),
            Page(
                gettext_lazy("Files"),
                "plant:import_list",
                Right.IMPORT,
                gettext_lazy("Machines brought in from a file."),
            ),
            Page(
                gettext_lazy("What is kept"),
                "maintenance:keep",
                Right.KEEP,
                gettext_lazy("Which words and photos will go."),
            ),
            Page(
                gettext_lazy("Erasures"),
                "reports:erasures",
                Right.KEEP,
                gettext_lazy("People taken out of the records."),
            ),
            Page(
                gettext_lazy("Taken out"),
                "reports:take_out",
                Right.TAKE_OUT,
                gettext_lazy("Everything of a depot, as files."),
            ),
            Page(
                gettext_lazy("Health"),
                "plant:health",
                Right.RUN_SYSTEM,
                gettext_lazy("Whether the system itself is well."),
            ),
            Page(
                gettext_lazy("Start and stop"),
                "plant:start_and_stop",
                Right.RUN_SYSTEM,
                gettext_lazy("How the system is run."),
            ),
            Page(
                gettext_lazy("Restore"),
                "plant:restore_page",
                Right.RUN_SYSTEM,
                gettext_lazy("From a backup, in order."),
            ),
            Page(
                gettext_lazy("Parts of the page"),
                "maintenance:page_parts",
                Right.PEOPLE,
                gettext_lazy("Every mark, button and field there is."),
            ),
        ),
    ),
    (
        gettext_lazy("Help"),
        (
            Page(
                gettext_lazy("Help"),
                "maintenance:help_page",
                None,
                gettext_lazy("A guide for each, and a box to find it."),
            ),
            Page(
                gettext_lazy("Words we use"),
                "maintenance:help_words",
                None,
                gettext_lazy("What each word means."),
            ),
            Page(
                gettext_lazy("Why?"),
                "maintenance:help_why",
                None,
                gettext_lazy("Why each thing is asked."),
            ),
            Page(
                gettext_lazy("Worked examples"),
                "maintenance:help_worked",
                None,
                gettext_lazy("Sums that can be repeated."),
            ),
            Page(
                gettext_lazy("Practise"),
                "maintenance:practice",
                Right.SEE,
                gettext_lazy("On a machine of your own."),
            ),
        ),
    ),
    (
        gettext_lazy("Yourself"),
        (
            Page(
                gettext_lazy("Messages"),
                "reports:messages",
                Right.SEE,
                gettext_lazy("Mail and calendars that you want."),
                by_password=True,
            ),
            Page(
                gettext_lazy("Your account"),
                "plant:own_account",
                None,
                gettext_lazy("Where you are signed in; password."),
            ),
            Page(
                gettext_lazy("Your code"),
                "plant:own_code",
                None,
                gettext_lazy("Six figures for shared phones."),
            ),
            Page(
                gettext_lazy("Your data"),
                "reports:own_data",
                None,
                gettext_lazy("Everything kept of you, to take along."),
            ),
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
