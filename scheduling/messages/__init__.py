"""What the book tells people and other programs, and how that is sent once and never lost.

A message is a row, written in the transaction of its cause (`causes`), claimed by a worker with a
conditional update (`outbox`), and sent by mail (`mail`, `digest`) or posted (`webhooks`).
"""
