"""What can go wrong in a way that the keeper can do something about.

A `ClipmarkError` is shown to the keeper as it reads: a sentence that says what is wrong and what to do.
Everything else that is raised is a fault of ours. Subclasses stand beside the code that raises them.
"""


class ClipmarkError(Exception):
    """A sentence for the keeper: what is wrong and what to do."""


class WrongUsage(ClipmarkError):
    """The command was called in a way that cannot be meant (exit code 2)."""
