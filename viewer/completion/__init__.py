"""Shell completion: what may come next on a command line (`words`), and the scripts that ask for it (`scripts`)."""
