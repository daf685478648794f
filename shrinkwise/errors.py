"""What can go wrong, said in a bakery lead's words.

Every error that a user can cause is a `ShrinkwiseError`: one paragraph that names what was
found, where, what was expected and what to do. The command line prints it and ends with exit
code 2; the dashboard shows it in place of the page.
"""


class ShrinkwiseError(Exception):
    """Something the user can mend; the message says how."""


class ProfileError(ShrinkwiseError):
    """`store.toml` is missing, unreadable or holds an impossible value."""


class RecordsError(ShrinkwiseError):
    """The records folder or one of its files cannot be used at all."""


class ScenarioError(ShrinkwiseError):
    """A scenario file is unreadable or asks for something impossible."""


class EvidenceError(ShrinkwiseError):
    """The records are sound but hold too little to answer the question."""


class PlanError(ShrinkwiseError):
    """What the lines share leaves no plan."""
