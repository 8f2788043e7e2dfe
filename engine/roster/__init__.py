"""Answer many people at once, from a file or in memory."""
