"""What it means: pure functions from records and arrays to results."""
