"""Physics of nitrogen-inerted sprinkler pipe: plain numbers in, plain numbers out.

Pure Python and NumPy. Imports no web framework and no other module of this project.
Functions take SI arguments, scalars or arrays; fields of the dataclasses carry their unit in
the name, because other modules read them.
"""
