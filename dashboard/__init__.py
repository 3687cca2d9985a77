"""All that a person meets: pages, drawings, printed report and command line."""
