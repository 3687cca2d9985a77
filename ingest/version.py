"""The one place that names the version; results and logs carry it."""

VERSION = "0.1.0"
SOFTWARE = f"flatfoot {VERSION}"
