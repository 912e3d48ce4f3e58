//! Leads a wind band class from a terminal.
