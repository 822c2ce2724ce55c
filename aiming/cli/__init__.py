"""One module for each command: take what was asked, call one function, write what it gives."""
