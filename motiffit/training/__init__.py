"""How the motif model was made. Imported by nothing else and left out of the wheel."""
