"""What happened, written down for good: link, recording, log file, and the records people write."""
