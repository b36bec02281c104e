"""The check of the wiring at rest: every input looked at for some seconds, and every finding against it."""
