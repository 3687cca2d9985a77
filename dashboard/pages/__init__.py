"""One page a file: `layout(...)` and `register(app, book)`."""
