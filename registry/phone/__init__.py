"""Entries made where there is no connection: how the book takes them, once and in its own order."""
