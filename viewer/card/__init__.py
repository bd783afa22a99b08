"""The card of a setup for the field: as text and as a document (`text`), as one page to print (`page`)."""
