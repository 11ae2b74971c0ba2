"""The exit statuses that are no verdict on a rig."""

USAGE, UNUSABLE, INTERRUPTED = 64, 3, 130
"""The command's words are off (EX_USAGE of sysexits.h); a file can't be used; Ctrl-C."""
