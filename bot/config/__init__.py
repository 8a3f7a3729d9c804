"""Who may text, on which settings, and the figures and words now in force. What came is never written to."""
