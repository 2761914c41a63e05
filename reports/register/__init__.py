"""The register of an owner as a file that imports again to the same register."""
