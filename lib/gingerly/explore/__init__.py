"""The proof that the cycle cannot hurt the machine, for anyone to run again.

`paper` is an ideal machine, `alphabet` what may go wrong with each reply, `invariants` what must hold whatever
comes back, and `explorer` goes through all of it.
"""
