from django.dispatch import Signal

record_added = Signal()
"""Sent inside the transaction that wrote a record, after the atmosphere was derived again.

Arguments: `record`. A receiver that fails must not undo the record: wrap its work in a savepoint.
"""
