"""Names of the components that callbacks speak to, each once."""

UNITS = "units"
THEME = "theme"
THEME_DONE = "theme-done"

# Of a page: what its address asked for, and where its answer goes.
ASKED = "asked"
SHOWN = "shown"

JOBS_FIND = "jobs-find"
JOBS_TABLE = "jobs-table"

JOB_BEFORE = "job-before"
JOB_AFTER = "job-after"
JOB_COMPARE = "job-compare"

RIDE_GRAPH = "ride-graph"
RIDE_ZOOMED = "ride-zoomed"
RIDE_WHOLE = "ride-whole"
RIDE_EVENT = "ride-event"

RECORD_JOB = "record-job"
RECORD_SETUP = "record-setup"
RECORD_NO_SETUP = "record-no-setup"
RECORD_KIND = "record-kind"
RECORD_PORT = "record-port"
RECORD_LOOK = "record-look-again"
RECORD_START = "record-start"
RECORD_STOP = "record-stop"
RECORD_MARK = "record-mark"
RECORD_TICK = "record-tick"
RECORD_FORM = "record-form"
RECORD_LIVE = "record-live"
RECORD_NOTE = "record-note"
