"""Halocline: keeps a small sea-water reverse-osmosis plant on a boat safe, and its water trustworthy."""

__version__ = "0.1.0"
