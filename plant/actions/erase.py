"""Erasing words and photos of sealed records. Their rows and their commitments stay."""

from datetime import datetime

from django.core.files.storage import default_storage

from plant.models import LeftFile, Record, RecordPhoto
from plant.models.record import ErasableQuerySet


def erase(
    *, texts: ErasableQuerySet, photos: ErasableQuerySet, record: Record, at: datetime
) -> tuple[int, int]:
    """Takes the words and photos and their salts. Call inside the effect's transaction.

    The files themselves go after it, by ``remove_left_files``: a file that was removed does not
    come back when a transaction fails.

    Args:
        texts, photos: which; what is erased already stays as it is.
        record: the sealed record that says why.

    Returns:
        How many texts and photos went.
    """
    gone = {"salt": "", "erased_at": at, "erased_with": record}
    here = photos.standing().select_for_update().values_list("pk", "file")
    files = dict(here)
    leave_files(list(files.values()), at=at)
    return (
        texts.standing().update(text="", **gone),
        RecordPhoto.objects.filter(pk__in=files).update(file="", **gone),
    )


def leave_files(names: list[str], *, at: datetime) -> None:
    """Notes files that no row names from this transaction on."""
    LeftFile.objects.bulk_create(
        (LeftFile(name=name, at=at) for name in names if name), ignore_conflicts=True
    )


def remove_left_files() -> int:
    """Takes off the disk what was left behind. Running it twice, or half, is harmless."""
    gone = 0
    for left in LeftFile.objects.order_by("pk").iterator():
        default_storage.delete(left.name)  # nothing happens where it is gone already
        left.delete()
        gone += 1
    return gone
