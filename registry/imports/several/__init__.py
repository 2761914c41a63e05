"""Sheets that make one register together: systems beside their pipe, and handover sheets."""
