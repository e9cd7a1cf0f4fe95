"""What can go wrong for a keeper, one class per kind.

A message is one sentence or two: what is wrong, with the value, and what to do.
The command line prints it and exits with code 2.
"""

MOST = 900  # characters of a message that is still read


class FieldvoiceError(Exception):
    """Base of every error a keeper can meet."""

    def __str__(self) -> str:
        """One line that a terminal can show, whatever a value in it holds; the middle may go."""
        text = " ".join(super().__str__().split())
        text = "".join(sign if sign.isprintable() else "\ufffd" for sign in text)
        return text if len(text) <= MOST else f"{text[: MOST // 2]} … {text[-MOST // 2 :]}"


class RecordingError(FieldvoiceError):
    """A recording cannot be read: not sound, cut short, empty, not permitted."""


class ModelError(FieldvoiceError):
    """Speech weights are missing, unknown, or not the file they should be."""


class InputError(FieldvoiceError):
    """A transcript, register, date or option that cannot be used as given."""


class SettingsError(FieldvoiceError):
    """The settings file has a value that is not allowed."""


class LogbookError(FieldvoiceError):
    """The logbook cannot be opened or written: not SQLite, newer, locked, full."""


class StaleError(FieldvoiceError):
    """A decision was made on a draft that has changed since it was shown."""


class DeviceError(FieldvoiceError):
    """A microphone cannot be used: none there, taken, or its library is missing."""
