"""Reports that people keep: rows collected as the pages show them, in words, on one layout."""
