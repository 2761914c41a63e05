"""The book held against its own records: every chain, every head, and every row that a page may
show in place of a record. Reads only. What another app keeps beside records brings its own checks.
"""

from registry.verifying.against import against_heads, read_heads
from registry.verifying.book import Check, Difference, Examined, Prepared, differences, examined
from registry.verifying.loading import Held
from registry.verifying.log import against_checkpoint, log_differences

__all__ = [
    "Check",
    "Difference",
    "Examined",
    "Held",
    "Prepared",
    "against_checkpoint",
    "against_heads",
    "differences",
    "examined",
    "log_differences",
    "read_heads",
]
