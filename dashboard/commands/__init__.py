"""One verb a file; `dashboard.cli` joins them."""
