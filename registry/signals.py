from django.dispatch import Signal

systems_taken_back = Signal()
"""Sent inside the transaction in which a load was taken back, before it commits.

Arguments: `systems`, the keys of those that left the register, and `now`.
"""

record_added = Signal()
"""Sent inside the transaction that wrote a record, after the atmosphere was derived again.

Arguments: `record`, `now`, and `told`, the system as its ledger tells it by then. A receiver that
fails must not undo the record: wrap its work in a savepoint.
"""
