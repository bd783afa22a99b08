"""The report: one page that needs nothing else, from what was asked to every input."""
