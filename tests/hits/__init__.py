"""Music whose hits are known: made strings, rendered instruments, recordings put together.

Tuned on: `modal` strings, and seeds below 1000 of everything else, `karplus` strings of some of those seeds
too. Kept aside for judging: every kind from seed 26,100 on.
"""
