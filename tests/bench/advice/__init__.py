"""Does the advice work? Made-up shops live by it: `python -m tests.bench.advice`."""
