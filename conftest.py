"""Test set-up for the whole tree."""

# Django models can only be imported after start-up; their modules hold no examples to run.
collect_ignore_glob = [
    "src/lapwright/records/*",
    "src/lapwright/web/*",
    "tests/benchmark/*",
]
