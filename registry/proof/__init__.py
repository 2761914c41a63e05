"""What an outsider needs to prove the history alone: a Merkle log of record hashes, signed heads,
and packages. Pure: no Django, no database; `verify.py` needs the standard library only."""
