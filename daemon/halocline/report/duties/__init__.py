"""The year's work by the record: what is due, what is aboard, how the water in the tank stands.

`facts` reads the record, `state`, `stores` and `water` are pure functions of it, `answer` puts them together. The table
itself is `plant/duties.py`.
"""
