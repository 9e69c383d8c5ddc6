"""From a mix as a builder gives it to an honest composite."""
