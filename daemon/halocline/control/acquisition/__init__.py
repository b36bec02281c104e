"""From the electronics to one tick's inputs: the board's interface, the scan, the judging of each channel.

It knows nothing of the core; the scanner runs in a thread of its own.
"""
