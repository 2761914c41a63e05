"""What an auditor takes away and compares: packages, checkpoints, older states of the book."""
