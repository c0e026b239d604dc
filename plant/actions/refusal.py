"""What an action says when it cannot be done and the user can put it right."""


class Refused(ValueError):
    """The change was not made; nothing was saved.

    field: the name of the entry at which to show the message, or empty for the whole form.
    """

    def __init__(self, message: str, *, field: str = "") -> None:
        super().__init__(message)
        self.field = field
