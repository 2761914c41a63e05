"""Papers of single work: a visit, a run handed over, an order, the day of a van, labels."""
