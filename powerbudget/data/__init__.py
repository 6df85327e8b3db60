"""Tables of outside figures, and the one loader that reads them."""
