"""The sign at the riser on paper."""
