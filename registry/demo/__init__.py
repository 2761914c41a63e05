"""The demo portfolio: an invented owner of quays, its contractors and its auditor.

Everything is written through the same services and importer that people use, at the times it is
said to have happened, so that the demo's ledger, orders and feeds are as real as any.
"""

from registry.demo.people import demo_password, demo_people
from registry.demo.story import load_demo

__all__ = ["demo_password", "demo_people", "load_demo"]
