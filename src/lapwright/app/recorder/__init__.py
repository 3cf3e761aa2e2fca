"""The recorder: a process of its own that owns gauges, endpoint, stop output and the storage of readings.

Order of a reading: the estimate and the stop see it at once; it is committed within 0.2 s; listeners see it in the next
batch, with how many are committed. A stop never waits for storage, and recording never waits for viewing.

Not a safety function: the machine's own interlocks stay in charge.
"""
