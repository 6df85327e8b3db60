"""The manual: chapters and key reference, as the program prints and ships them."""
