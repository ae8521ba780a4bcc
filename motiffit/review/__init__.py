"""The review page: look, correct, accept, print, in a browser on the same machine."""
