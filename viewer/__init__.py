"""Everything a person looks at: the command line and the text it prints."""
