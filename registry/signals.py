from django.dispatch import Signal

register_loaded = Signal()
"""Sent inside the transaction that entered a chunk of a register, instead of `record_added` for
each of its systems and pipe runs: a load of a hundred thousand rows is one piece of news a chunk.

Arguments: `systems`, those that were entered or got pipe, and `now`. As with `record_added`, a
receiver that fails must not undo the load.
"""

register_load_ended = Signal()
"""Sent when all of a load is in the book, outside its transactions, and again when a load that was
cut short is repeated. Arguments: `sites`, where its systems stand, `edition`, what a person said is
adopted there, or nothing, `by` and `now`.
"""

systems_taken_back = Signal()
"""Sent inside the transaction in which a load was taken back, before it commits.

Arguments: `systems`, the keys of those that left the register, and `now`.
"""

record_added = Signal()
"""Sent inside the transaction that wrote a record, after the atmosphere was derived again.

Arguments: `record`, `now`, and `ledger`, the system as its ledger tells it by then. A receiver that
fails must not undo the record: wrap its work in a savepoint.
"""

job_given_up = Signal()
"""Sent inside the transaction that gives a job up. Arguments: `job`, `words`, `now`."""
