"""Every fact of a restoration answered with yes, where a test is about something else."""

from registry.protection.restoration import FACTS

RESTORED = dict.fromkeys(FACTS, "yes")
