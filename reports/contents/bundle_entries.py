"""Parts 2 and 4 of a bundle: each failure with what was done, and every record whole."""

from collections.abc import Iterable
from uuid import UUID

from django.utils.translation import gettext, gettext_noop

from maintenance.contents.followed import Followed
from maintenance.contents.gaps import LATER
from maintenance.contents.record import heading, summary, who
from maintenance.contents.record_answers import Answered, answers, measured, steps
from maintenance.contents.record_facts import facts, gathered, words
from plant.models import Record
from reports.contents.bundle_said import Said, seal_of, span
from reports.contents.record import numbered_photos, small_photo
from reports.pdf.bundle import Acted, Asked, Entry, Pair
from reports.pdf.record import Photo

# What a paper for strangers does not need: how to ring who has the machine.
_LEFT_OUT = (gettext_noop("Hirer's phone"), gettext_noop("Site phone"))
# A file of some 10 MB; a photo on paper is of some 20 kB.
MOST_PHOTOS = 300


def pair(said: Said, each: Followed) -> Pair:
    found = each.found
    lines = [Acted(said.when(found.happened_at), summary(found), who(found), found.number)]
    lines += [
        Acted(said.when(act.at), act.what, act.who, act.record.number if act.record else "")
        for act in each.acts
    ]
    if each.ended_at is not None:
        took = span(each.ended_at - found.happened_at)
        end = gettext("Ended on {ended_at}, after {took}.").format(
            ended_at=said.when(each.ended_at), took=took
        )
    else:
        took = span(said.at - found.happened_at)
        done = gettext("Nothing was done. ") if each.nothing else ""
        stands = f" {each.stands}." if each.stands else ""
        end = gettext("{done}OPEN when this was printed, after {took}.{stands}").format(
            done=done, took=took, stands=stands
        )
    return Pair(each.words, tuple(lines), end, is_open=each.ended_at is None)


class Entries:
    """The records of a bundle as they stand in it, photos among them as long as there is room."""

    def __init__(self, said: Said, everything: Iterable[Record]) -> None:
        self._said = said
        self._corrected: dict[UUID, list[Record]] = {}
        for each in everything:
            if each.corrects_id is not None:
                self._corrected.setdefault(each.corrects_id, []).append(each)
        # How many photos are printed yet, and of how many there is only the number.
        self.printed = self.counted_only = 0

    def entry(self, record: Record) -> Entry:
        role = (
            gettext(", as {role}").format(role=record.role)
            if record.role and record.role != "label"
            else ""
        )
        told = [*_told(record), *gathered(facts(record))]
        asked = answers(record)
        photos = self._photos(record, asked)
        if not photos and (count := len(record.photos.all())):
            told.append(
                (
                    gettext("Photos"),
                    gettext("{count}, shown on the record's page").format(count=count),
                )
            )
        return Entry(
            number=record.number,
            seal=seal_of(record.hash),
            when=self._said.when(record.happened_at),
            heading=heading(record),
            summary=summary(record),
            who=f"{who(record)}{role}",
            notes=self._notes(record),
            asked=tuple(
                Asked(
                    each.asked,
                    " ".join(filter(None, (_answer(each.answer), each.figure))),
                    ". ".join(
                        filter(None, (each.word, each.level, each.limit and f"Limit {each.limit}"))
                    ),
                )
                for each in asked
            ),
            readings=tuple(
                (each.what, each.reading, each.limit, each.result, each.origin)
                for each in measured(record)
            ),
            steps=tuple(
                " ".join(filter(None, (f"{each.number}. {each.asked}", each.target, *each.answers)))
                for each in steps(record)
            ),
            facts=tuple(told),
            photos=photos,
        )

    def _notes(self, record: Record) -> tuple[str, ...]:
        notes = []
        if record.received_at - record.happened_at > LATER:
            after = span(record.received_at - record.happened_at)
            notes.append(
                gettext("Entered later: received {received_at}, {after} after.").format(
                    received_at=self._said.when(record.received_at), after=after
                )
            )
        if record.corrects is not None:
            notes.append(
                gettext("Corrects record {corrects}.").format(corrects=record.corrects.number)
            )
        notes += [
            gettext("Corrected by record {record} on {happened_at}.").format(
                record=each.number, happened_at=self._said.when(each.happened_at)
            )
            for each in self._corrected.get(record.pk, ())
        ]
        return tuple(notes)

    def _photos(self, record: Record, asked: list[Answered]) -> tuple[Photo, ...]:
        """The photos of a record made small; none once the bundle holds as many as it takes."""
        found = numbered_photos(record, asked).values()
        if self.printed + len(found) > MOST_PHOTOS:
            self.counted_only += len(found)
            return ()
        self.printed += len(found)
        return tuple(small_photo(record, photo, *told) for photo, *told in found)


def _answer(key: str) -> str:
    return {"ok": "OK"}.get(key, key[:1].upper() + key[1:])


def _told(record: Record) -> list[tuple[str, str]]:
    left_out = [gettext(each) for each in _LEFT_OUT]
    return [
        (label, gettext("left out of this paper") if label in left_out else value)
        for label, value in words(record)
    ]
