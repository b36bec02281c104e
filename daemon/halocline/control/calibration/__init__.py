"""Calibrations by command: what one comes to, how far it may go, and the file of those in force."""
