"""What the plant owes and is owed over time. Each duty owns its numbers: only its own methods change them.

`follow` brings a duty to a tick, `persistence` puts into the retained state what must survive a restart, and the
constructor takes it up again.
"""
