from django.dispatch import Signal

record_added = Signal()
"""Sent inside the transaction that wrote a record, after the atmosphere was derived again.

Arguments: `record`, `now`, and `told`, the system as its ledger tells it by then. A receiver that
fails must not undo the record: wrap its work in a savepoint.
"""

job_given_up = Signal()
"""Sent inside the transaction that gives a job up. Arguments: `job`, `words`, `now`."""
