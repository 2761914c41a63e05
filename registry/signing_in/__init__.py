"""How people come in: what the accounts library is told, and what it leaves to the book.

The pages and their flow are django-allauth's. Here are the promises that the book adds: a wait
after wrong passwords that holds over several processes, limits of a session, the question who one
is before a secret is shown, and the log of all that.
"""
