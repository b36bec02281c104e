"""Obligations over time: the motor's rest, flushes, purges, attendance. Each owns its numbers: only its methods change
them.

`follow` brings a duty to a tick, `persistence` puts into the retained state what must survive a restart, and the
constructor takes it up again.
"""
