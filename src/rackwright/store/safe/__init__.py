"""Files that survive: atomic writing, locks, the journal, the session's process and folders."""
