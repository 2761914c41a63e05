"""One file that holds the whole book: the database as it stood at one instant, the files it names,
and the key. Read back it is checked before it takes the place of what is there.
"""
