"""The sections of a report of many systems, each worded from rows that were collected once."""
