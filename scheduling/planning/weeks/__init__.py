"""A week of crews: proposed, shown, moved by hand, accepted."""
