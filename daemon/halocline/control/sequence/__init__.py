"""The state machine: its table, the conditions of its transitions, what a transition does, and the outputs."""
