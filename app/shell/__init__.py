"""Serve the pages: server, drafts, session, style, faults and the words of the frame."""
