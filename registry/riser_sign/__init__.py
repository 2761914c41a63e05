"""The sign at the riser: what it says of one system, in which words, and how often it is asked."""
