"""Wakes a worker after a change is saved. The row is the promise; the message is only a knock."""

import logging
from functools import partial
from typing import Any

from django.contrib import messages
from django.db import transaction
from django.utils.translation import gettext, gettext_noop

from plant.security_log import being_answered

log = logging.getLogger(__name__)

# A person waits meanwhile. Without an answer in this time the timer finds the row, so no second
# try is made.
PATIENCE_S = 0.5
DELAYED = gettext_noop(
    "Saved. Printing and other work in the background is delayed: its queue does not answer. "
    "It begins by itself; do not send it again."
)
_QUICK = {
    "max_retries": 0,
    "socket_connect_timeout": PATIENCE_S,
    "socket_timeout": PATIENCE_S,
    "retry_on_timeout": False,
}


def nudge(task: Any, pk: int) -> None:
    """Once the transaction is through, sends the task with this key.

    A queue that is down or slow neither fails the request nor holds it up for long.
    """
    transaction.on_commit(partial(_send, task, pk))


def _send(task: Any, pk: int) -> None:
    try:
        with task.app.connection_for_write(transport_options=_QUICK) as connection:
            task.apply_async((pk,), connection=connection, retry=False)
    except Exception as down:
        # Whatever the queue's client raises: the change is saved, and its sender must hear that.
        log.warning("nobody woken", extra={"task": task.name, "row": pk, "reason": repr(down)})
        request = being_answered()
        if request is not None and not hasattr(request, "nobody_woken"):
            request.nobody_woken = True  # type: ignore[attr-defined]  # said once a page
            messages.warning(request, gettext(DELAYED), fail_silently=True)
